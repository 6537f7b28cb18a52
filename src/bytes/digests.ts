/** One running digest. */
export interface Digest {
  /** Takes in the next bytes. The array may be a view that changes afterwards: nothing keeps it. */
  update(bytes: Uint8Array): void;
  /** The digest of all bytes so far, in lower-case hexadecimal digits. Call it once, at the end. */
  hex(): string;
}

/** The digests that the core asks of its surroundings, since it knows neither Node nor a browser. */
export interface Digests {
  /** SHA-256 (FIPS 180-4), 64 hexadecimal digits. */
  sha256(): Digest;
  /** CRC-32 as in gzip and ZIP (RFC 1952 section 8), 8 hexadecimal digits. */
  crc32(): Digest;
}
