/** How long the board works on its memory, and how long to keep the power on. */
export interface PowerOn {
  /** Bytes of memory that are erased and filled. */
  readonly bytes: number;
  /** Seconds that this takes, from and to. */
  readonly seconds: { readonly from: number; readonly to: number };
  /** Seconds for which to keep the power on in any case: twice the longest. */
  readonly keepOn: number;
  readonly source: string;
}

/**
 * Common practice, no published source: boards of this kind take 5 to 10 seconds to erase and fill a few hundred
 * KiB, here taken as 400; smaller programs are not counted as quicker.
 */
const bytesOfPractice = 400 * 1024;

export function powerOn(bytes: number): PowerOn {
  const share = Math.max(1, bytes / bytesOfPractice);
  const to = Math.ceil(10 * share);
  return {
    bytes,
    seconds: { from: Math.floor(5 * share), to },
    keepOn: 2 * to,
    source: 'common practice, no published source: 5 to 10 seconds for a few hundred KiB',
  };
}
