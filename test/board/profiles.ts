import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Profile } from '../../src/board/profile.js';
import { ProfileError, type ProfileProblem, readProfile } from '../../src/board/read.js';

export const boards = ['tansy', 'clinker', 'burr'] as const;
const folder = join(import.meta.dirname, '../../samples/boards');

/** The text of a sample profile. */
export const sampleText = (id: (typeof boards)[number]): string =>
  readFileSync(join(folder, `${id}.yaml`), 'utf8');

/** A sample profile as read. */
export const sample = (id: (typeof boards)[number]): Profile =>
  readProfile(sampleText(id), `${id}.yaml`).profile;

const head = 'schema: flashworthy-board/1\nid: x\ntitle: X\nrevision: 1\n';

/** A profile of these lines behind the four that every profile has; the lines start at line 5. */
export const profileOf = (body: string): Profile => readProfile(head + body, 'board.yaml').profile;

/** What is wrong with such a profile; throws when nothing is. */
export function problemsOf(text: string, withHead = true): readonly ProfileProblem[] {
  try {
    readProfile(withHead ? head + text : text, 'board.yaml');
  } catch (error) {
    if (error instanceof ProfileError) return error.problems;
    throw error;
  }
  throw new Error('the profile is accepted');
}

/** The problems as an editor shows them. */
export const linesOf = (text: string, withHead = true): string[] =>
  problemsOf(text, withHead).map((one) => `${one.line}:${one.column}: ${one.message}`);
