import { Chalk, type ChalkInstance } from 'chalk';
import { visible } from '../rules/visible.js';
import { wrap } from './wrap.js';

/** How a text for people is set. */
export interface LineOptions {
  /** Characters in a line. */
  readonly width: number;
  readonly color: boolean;
}

/** The lines of a text for people: headings at the margin, items two characters further in. */
export class Lines {
  private readonly out: string[] = [];
  private readonly width: number;
  readonly paint: ChalkInstance;

  constructor({ width, color }: LineOptions) {
    this.paint = new Chalk({ level: color ? 1 : 0 });
    // Below forty characters wrapping only makes it worse.
    this.width = Math.max(40, width);
  }

  /** The first line of the page, in bold and in a colour. */
  headline(text: string, color: (text: string) => string): void {
    this.add(text, '', (line) => this.paint.bold(color(line)));
  }

  /** A heading with an empty line before it. */
  section(title: string): void {
    this.blank();
    this.add(title, '', this.paint.bold);
  }

  /** `Name:     text`, with further lines below the text. */
  entry(name: string, text: string): void {
    this.add(text, `${name}:`.padEnd(10));
  }

  /** `  - text` */
  item(text: string): void {
    this.add(text, '  - ');
  }

  blank(): void {
    this.out.push('');
  }

  /** A text broken into lines. `first` and `rest` are what the first and the other lines begin with. */
  add(text: string, first = '', color?: (text: string) => string, rest?: string): void {
    // Names may come from a stranger's file: no line holds a character that a terminal obeys.
    for (const line of wrap(text, this.width, first, rest).map(visible))
      this.out.push(color ? color(line) : line);
  }

  /** A line as it is: part of a drawing. */
  literal(text: string): void {
    this.out.push(visible(text));
  }

  /** A line that is never broken, since somebody will copy it. */
  command(text: string): void {
    this.out.push(`    ${visible(text)}`);
  }

  /** All lines, with a line break after the last one. */
  text(): string {
    return `${this.out.join('\n')}\n`;
  }
}
