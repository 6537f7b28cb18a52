import { readFileSync } from 'node:fs';
import type { Profile } from '../board/profile.js';
import { limits } from '../bytes/limits.js';
import { type Capture, readCapture } from '../machine/capture.js';
import { identityKeys } from '../machine/machine-identity.js';
import { sha256Hex } from '../node/digests.js';
import { errorText } from '../node/read-cause.js';
import { notThere, usageProblem } from './exit.js';
import { type InputFile, statOrNull } from './inputs.js';

/**
 * Reads a terminal capture. A byte that is no text is a garbled character, since lines drop and flip bits. Ends the
 * command with 66 when the file is not there, with 64 when it cannot be a capture.
 */
export function captureFile(path: string, profile: Profile): { file: InputFile; capture: Capture } {
  const stats = statOrNull(path);
  if (stats === null) throw notThere(`${path}: there is no such file (terminal capture)`);
  if (!stats.isFile()) throw usageProblem(`${path} is not a file (terminal capture)`);
  if (stats.size > limits.textFileBytes)
    throw usageProblem(
      `${path} is larger than ${limits.textFileBytes} bytes: save the part with the answers of the machine by itself`,
    );
  let bytes: Uint8Array;
  try {
    bytes = readFileSync(path);
  } catch (error) {
    throw notThere(`${path} cannot be read: ${errorText(error)}`);
  }
  const text = decoded(bytes);
  const keys = Object.values(identityKeys(profile));
  const file = { role: 'terminal capture', path, text, sha256: sha256Hex(bytes) };
  return { file, capture: readCapture(text, keys) };
}

/** Windows shells save redirected output as UTF-16 with a byte-order mark. */
function decoded(bytes: Uint8Array): string {
  const [first, second] = bytes;
  const encoding =
    first === 0xff && second === 0xfe ? 'utf-16le' : first === 0xfe && second === 0xff ? 'utf-16be' : 'utf-8';
  return new TextDecoder(encoding).decode(bytes);
}
