/** What `record` tells the owner about the record that it wrote. */
export interface RecordNotes {
  board: { id: string; title: string; revision: number };
  /** Release that runs, and who says so; null when it is not known. */
  release: { text: string; by: 'machine' | 'owner' } | null;
  /** The fitted supply in words; null when it is not known. */
  supply: string | null;
  settings: { count: number; line: number | null };
  /** Plain sentences: what is missing before anybody flashes. */
  lacks: string[];
  /** Questions of the board that decide which build is right, and how to answer them. */
  questions: { ask: string; help?: string; option: string }[];
  /** Lines to send to the machine, with what each does, in this order. */
  send: { line: string; does: string }[];
  /** Sentences about what the capture shows besides. */
  remarks: string[];
  cautions: string[];
  /** The commands to type next. */
  next: { text: string; command: string };
}
