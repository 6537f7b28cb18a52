import type { ReadCause } from '../bytes/byte-source.js';

/** The code of an error of the system (`ENOENT`, `EIO`), or an empty text for any other error. */
export function errorCode(error: unknown): string {
  return error instanceof Error && 'code' in error && typeof error.code === 'string' ? error.code : '';
}

/** The system's own words for an error. */
export function errorText(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

/** What an error of the system means for a read. */
export function readCauseOf(error: unknown): ReadCause {
  const code = errorCode(error);
  return code === 'EACCES' || code === 'EPERM' ? 'no-permission' : 'read-error';
}
