import { createHash } from 'node:crypto';
import crc32 from 'crc-32';
import type { Digest, Digests } from '../bytes/digests.js';

/** Digests of the core, made with `node:crypto` and the `crc-32` library. */
export const nodeDigests: Digests = {
  sha256(): Digest {
    const hash = createHash('sha256');
    return { update: (bytes) => void hash.update(bytes), hex: () => hash.digest('hex') };
  },
  crc32(): Digest {
    let value = 0;
    return {
      update(bytes) {
        value = crc32.buf(bytes, value);
      },
      // The library answers with a signed number.
      hex: () => (value >>> 0).toString(16).padStart(8, '0'),
    };
  },
};

/** SHA-256 of bytes or of a text in UTF-8, 64 lower-case hexadecimal digits. */
export function sha256Hex(content: Uint8Array | string): string {
  return createHash('sha256').update(content).digest('hex');
}
