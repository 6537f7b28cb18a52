import { expect, it } from 'vitest';
import { runCommand } from '../support/run-command.js';

it('never takes the disk of the computer itself for a card, and gives no advice to format it', async () => {
  const { code, out, notes } = await runCommand('check', '/');
  expect(code).toBe(64);
  expect(out).toBe('');
  expect(notes.join()).toMatch(/no card/);
  expect(notes.join()).not.toMatch(/erase|format/i);
});
