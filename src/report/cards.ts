/** One removable card, or one volume of it where several are shown. */
export interface CardEntry {
  /** What `check` takes: drive letter, mount point or device. */
  target: string;
  /** The whole card as the system names it. */
  device: string;
  /** What the reader or the card calls itself. */
  title: string | null;
  /** Size of the whole card. */
  bytes: number | null;
  fileSystem: string | null;
  label: string | null;
  /** Where it is mounted; null when it is not. */
  mountedAt: string | null;
  /** The line that checks it, for the command line of this system. */
  command: string;
}

/** `flashworthy-cards/1`: the removable cards of a computer. */
export interface CardsReport {
  schema: 'flashworthy-cards/1';
  tool: { name: 'flashworthy'; version: string };
  cards: CardEntry[];
  /** In plain words why the list may lack some; null when it does not. */
  incomplete: string | null;
}
