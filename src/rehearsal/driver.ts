/** What the driver called fatfs answered when the card, or the volume by itself, was given to it. */
export interface DriverAnswer {
  /** Result of mounting: a code of the driver, and its name (`FR_OK`). */
  readonly mount: DriverResult;
  /** Result of opening the file; null when nothing was mounted, or there was none to open. */
  readonly open: DriverResult | null;
  /** What it read; null when it could not be read to its end. */
  readonly file: { readonly bytes: number; readonly sha256: string } | null;
}

export interface DriverResult {
  readonly code: number;
  readonly name: string;
}

/** A second reader of the card, beside what we found ourselves. */
export interface DriverOpinion {
  readonly driver: 'fatfs';
  /** Whether it was given the whole card, or the volume alone. */
  readonly given: 'card' | 'volume';
  /** Null when it was not asked. */
  readonly answer: DriverAnswer | null;
  /** True when it says the same as we do; null when that cannot be compared. */
  readonly agrees: boolean | null;
  /** A plain sentence. */
  readonly text: string;
}

/** What we found ourselves. */
export interface OwnReading {
  readonly bytes: number | null;
  readonly sha256: string | null;
  /** Drivers are known to disagree about this volume. */
  readonly isDisputed: boolean;
}

/** Compares the driver's answer with what we read. */
export function driverOpinion(
  given: DriverOpinion['given'],
  answer: DriverAnswer,
  { bytes, sha256, isDisputed }: OwnReading,
): DriverOpinion {
  const say = (agrees: boolean | null, text: string): DriverOpinion => ({
    driver: 'fatfs',
    given,
    answer,
    agrees,
    text,
  });
  const { mount, open, file } = answer;
  const what = given === 'card' ? 'the card' : 'the volume';
  if (sha256 === null)
    return mount.code === 0
      ? say(null, `It mounts ${what}; there is no update file to compare.`)
      : say(true, `It finds no volume that it could read on ${what} (${shown(mount)}), and neither did we.`);
  if (isDisputed && mount.code !== 0)
    return say(
      null,
      `It refuses ${what} (${shown(mount)}); drivers are known to disagree about such a volume.`,
    );
  if (mount.code !== 0)
    return say(
      false,
      `It refuses ${what} (${shown(mount)}), which we could read: trust neither, and format the card again.`,
    );
  if (open === null || open.code !== 0)
    return say(
      false,
      `It mounts ${what}, but does not find the file${open === null ? '' : ` (${shown(open)})`}, which we found: trust neither, and format the card again.`,
    );
  if (file === null || file.bytes !== bytes || file.sha256 !== sha256)
    return say(
      false,
      'It reads other bytes from the file than we do: trust neither, and format the card again.',
    );
  return say(true, `It mounts ${what} (${shown(mount)}), finds the file, and reads the very same bytes.`);
}

const shown = ({ name, code }: DriverResult): string => `${name}, ${code}`;

/** The opinion of a driver that could not be asked. */
export const notAsked = (text: string): DriverOpinion => ({
  driver: 'fatfs',
  given: 'card',
  answer: null,
  agrees: null,
  text,
});

/** The opinion of a driver that broke off over this card. */
export const driverBroke = (given: DriverOpinion['given']): DriverOpinion => ({
  driver: 'fatfs',
  given,
  answer: null,
  agrees: false,
  text: 'It broke off over this card, as it may do in the machine: format the card again.',
});
