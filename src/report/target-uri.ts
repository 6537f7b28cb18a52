import type { ReportOptions } from './reporters.js';

/**
 * A path as it was given as a URI reference (RFC 3986, RFC 8089): a relative one stays relative, an absolute one
 * becomes a `file:` URI. `inside` is a path below it, with `/` between names.
 */
export function targetUri(path: string, system: ReportOptions['system'], inside?: string): string {
  const isDrive = /^[A-Za-z]:(?:[\\/]|$)/.test(path);
  // Elsewhere a backslash is a character like any other.
  const isWindows = isDrive || path.startsWith('\\\\') || system === 'windows';
  const plain = isWindows ? path.replaceAll('\\', '/') : path;
  const whole = inside === undefined ? plain : `${plain.replace(/\/+$/, '')}/${inside}`;
  if (isDrive) return `file:///${whole.slice(0, 2)}${encodedPath(whole.slice(2) || '/')}`;
  if (isWindows && whole.startsWith('//')) return `file:${encodedPath(whole)}`;
  if (whole.startsWith('/')) return `file://${encodedPath(whole)}`;
  return encodedPath(whole.replace(/^(?:\.\/+)+/, ''));
}

/** Every name percent-encoded; half of a surrogate pair, which no encoding has, becomes the replacement character. */
export const encodedPath = (path: string): string =>
  path
    .split('/')
    .map((name) => encodeURIComponent(name.replaceAll(/\p{Cs}/gu, '\ufffd')))
    .join('/');
