import { releaseNumbering } from '../board/check.js';
import type { Profile } from '../board/profile.js';
import { valueProblem } from '../board/ranges.js';
import type { Capture } from './capture.js';

/** What a capture says about the machine itself, by the keys that the board profile names. */
export interface MachineIdentity {
  /** Line of the first reply, counted from 1; null when the capture has none. */
  readonly line: number | null;
  /** Every pair that can be relied on. */
  readonly pairs: Readonly<Record<string, string>>;
  /** Null when the reply or the profile does not say it. */
  readonly release: string | null;
  readonly board: string | null;
  /** What is missing or cannot be relied on, in plain sentences; empty when nothing is. */
  readonly problems: readonly string[];
}

/** The keys of the identity reply that a profile names. */
export function identityKeys({ identity }: Profile): { release?: string; board?: string } {
  if (identity === undefined || identity === 'any') return {};
  // identity.release.key, identity.board.key
  const [release, board] = [identity.release?.key, identity.board?.key];
  return { ...(release === undefined ? {} : { release }), ...(board === undefined ? {} : { board }) };
}

/** The replies of one capture taken together. Where two of them say different things, neither is believed. */
export function machineIdentity({ replies }: Capture, profile: Profile): MachineIdentity {
  const pairs = new Map<string, string>();
  const differing = new Set<string>();
  for (const reply of replies)
    for (const [key, value] of Object.entries(reply.pairs)) {
      if ((pairs.get(key) ?? value) !== value) differing.add(key);
      pairs.set(key, value);
    }
  for (const key of differing) pairs.delete(key);
  const keys = identityKeys(profile);
  const problems = [...differing].map(
    (key) => `the machine was asked more than once, and ${key} is not always the same: capture it anew`,
  );
  const [first] = replies;
  // One reply that came whole makes up for another one that was torn.
  if (first !== undefined && replies.every(({ problem }) => problem !== null)) problems.push(first.problem!);
  const read = (key: string | undefined, what: string): string | null => {
    if (key === undefined) return null;
    const value = pairs.get(key);
    if (value === undefined || value === '') {
      if (first !== undefined && problems.length === 0)
        problems.push(`the reply does not say ${key}, by which this board tells its ${what}`);
      return null;
    }
    return value;
  };
  const board = read(keys.board, 'name');
  const release = read(keys.release, 'release');
  const wrong = release === null ? undefined : valueProblem(release, releaseNumbering(profile));
  if (wrong !== undefined) problems.push(`${keys.release} is no release of this board: ${wrong}`);
  return {
    line: first?.line ?? null,
    pairs: Object.fromEntries(pairs),
    release: wrong === undefined ? release : null,
    board,
    problems,
  };
}

/** Boards are told apart whatever letters their names are written in. */
export const isBoard = (named: string, { id }: Profile): boolean =>
  named.trim().toLowerCase() === id.toLowerCase();
