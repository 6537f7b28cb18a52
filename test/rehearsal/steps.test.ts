import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { rehearsalReport } from '../../src/core/rehearsal-report.js';
import type { Step, StepId } from '../../src/rehearsal/step.js';
import { rehearseText } from '../../src/report/rehearse-text.js';
import { rehearseCardFile } from '../support/check-card.js';

const root = join(import.meta.dirname, '../..');
const card = (name: string): string => join(root, 'samples/cards', `${name}.img.gz`);
const tansy = { release: 'tansy-31', supply: 'small', installed: '30' };
/** The owner did not say which release runs, on which the boot loader depends. */
const notTold = { release: tansy.release, supply: tansy.supply };
const burr = { board: 'burr', set: 'panel=none' };

const stepOf = (steps: readonly Step[], id: StepId): Step => steps.find((step) => step.id === id)!;
const outcomes = (steps: readonly Step[]): string[] => steps.map(({ id, outcome }) => `${id} ${outcome}`);

describe('a loader that checks the file before it erases', () => {
  it('takes the right build from the card to its first instruction', async () => {
    const { check, rehearsal } = await rehearseCardFile(card('tansy-fit'), tansy);
    expect(check.verdict).toBe('fit');
    expect(rehearsal.answer).toBe('starts');
    expect(outcomes(rehearsal.steps)).toEqual(
      ['find-volume', 'find-file', 'read', 'check', 'erase', 'write', 'mark', 'jump'].map(
        (id) => `${id} done`,
      ),
    );
    expect(rehearsal.pointOfNoReturn).toBe('erase');
    // The file itself, by the layout of ARM DDI 0403, B1.5: word 0 is the stack pointer, word 1 the reset vector.
    const file = readFileSync(join(root, 'samples/releases/tansy-31/builds/TANSY-065N.LKF'));
    const base = 0x08010000;
    const reset = file.readUInt32LE(4);
    const code = reset - 1 - base;
    expect(rehearsal.fetch).toEqual({
      vectorsAt: base,
      initialStack: file.readUInt32LE(0),
      resetVector: reset,
      stackInRam: true,
      thumb: true,
      address: reset - 1,
      halfwords: [file.readUInt16LE(code), file.readUInt16LE(code + 2)].map((one) =>
        one.toString(16).toUpperCase().padStart(4, '0'),
      ),
      target: 'program',
    });
    expect(stepOf(rehearsal.steps, 'write').writes).toEqual([
      { what: 'new program', start: base, bytes: file.length },
    ]);
  });

  it('erases no less than the block under the program, as the processor makes its user do', async () => {
    const { rehearsal } = await rehearseCardFile(card('tansy-fit'), tansy);
    // Sector 4 of an STM32F407 has 64 KiB from 0x08010000 (MicroPython, ports/stm32/flash.c).
    expect(stepOf(rehearsal.steps, 'erase').writes).toMatchObject([{ start: 0x08010000, bytes: 0x10000 }]);
    expect(rehearsal.power).toMatchObject({ bytes: 0x10000, seconds: { from: 5, to: 10 }, keepOn: 20 });
  });

  it('reads the bytes of the card where the file lies', async () => {
    const { rehearsal, store } = await rehearseCardFile(card('tansy-fit'), tansy);
    const [read] = stepOf(rehearsal.steps, 'read').reads;
    expect(read).toEqual({ what: 'TANSY.LKF', start: store.number('updateFile.startByte'), bytes: 16384 });
  });

  it('keeps the old program when its check fails', async () => {
    const { check, rehearsal } = await rehearseCardFile(card('tansy-older-loader'), tansy);
    expect(check.verdict).toBe('refused');
    expect(rehearsal.answer).toBe('does-not');
    const step = stepOf(rehearsal.steps, 'check');
    expect(step).toMatchObject({ outcome: 'stops', program: 'old' });
    expect(step.ifItStops).toContain('the old program runs as before');
    expect(stepOf(rehearsal.steps, 'erase').outcome).toBe('not-reached');
    expect(rehearsal).toMatchObject({ pointOfNoReturn: null, power: null, memory: null, fetch: null });
  });
});

describe('a loader that erases before it has looked', () => {
  it('is left with nothing by a build for the other loader', async () => {
    const { check, rehearsal } = await rehearseCardFile(card('tansy-fit'), { ...tansy, installed: '22' });
    expect(check).toMatchObject({ verdict: 'refused', hazard: 'unbootable' });
    expect(rehearsal.answer).toBe('does-not');
    expect(outcomes(rehearsal.steps).slice(0, 6)).toEqual([
      'find-volume done',
      'find-file done',
      'erase done',
      'read done',
      'write done',
      'check dead',
    ]);
    // 848 KiB from 0x0800C000: one block of 16 KiB, one of 64, six of 128.
    expect(stepOf(rehearsal.steps, 'erase').writes.map(({ bytes }) => bytes / 1024)).toEqual([16, 64, 768]);
    expect(rehearsal.fetch).toMatchObject({ target: 'not-written', halfwords: null });
    expect(stepOf(rehearsal.steps, 'check').ifItStops).toContain('no program in the memory that starts');
  });

  it('starts with its own build', async () => {
    const { rehearsal } = await rehearseCardFile(card('tansy-older-loader'), { ...tansy, installed: '22' });
    expect(rehearsal.answer).toBe('starts');
    expect(rehearsal.memory).toEqual([
      { kind: 'boot-loader', start: 0x08000000, end: 0x0800c000, over: null, pieces: 1 },
      { kind: 'program', start: 0x0800c000, end: 0x08010000, over: null, pieces: 1 },
      { kind: 'rest', start: 0x08010000, end: 0x080e0000, over: null, pieces: 1 },
      { kind: 'settings', start: 0x080e0000, end: 0x08100000, over: null, pieces: 1 },
    ]);
  });

  it('says that nobody knows when the loader is not known', async () => {
    const { rehearsal } = await rehearseCardFile(card('tansy-fit'), notTold);
    expect(rehearsal).toMatchObject({ answer: 'cannot-tell', erases: null });
    expect(stepOf(rehearsal.steps, 'erase').findings).toMatchObject([
      { answer: 'unknown', settle: expect.stringContaining('--installed') },
    ]);
  });
});

describe('a loader that keeps the old program', () => {
  it('has no point of no return, and says what cannot be looked into', async () => {
    const { rehearsal } = await rehearseCardFile(card('burr-good'), burr);
    expect(rehearsal).toMatchObject({ answer: 'starts', pointOfNoReturn: null, fetch: null });
    expect(stepOf(rehearsal.steps, 'jump').outcome).toBe('not-shown');
    expect(stepOf(rehearsal.steps, 'write').program).toBe('old');
    expect(stepOf(rehearsal.steps, 'switch').program).toBe('new');
  });

  it.each([
    ['burr-companion-missing', 'find-file', 'BURR/START.LKT is not on the card'],
    ['burr-fragmented', 'read', 'in 2 pieces'],
    ['burr-exfat', 'find-volume', 'type 0x07'],
    ['burr-cluster-size', 'find-volume', '2 KiB'],
  ] as const)('stops with %s at %s', async (name, id, text) => {
    const { check, rehearsal } = await rehearseCardFile(card(name), burr);
    expect(check.verdict).toBe('refused');
    const step = stepOf(rehearsal.steps, id);
    expect(step).toMatchObject({ outcome: 'stops', program: 'old' });
    expect(step.findings.map((finding) => finding.text).join(' ')).toContain(text);
  });
});

describe('the page about it', () => {
  const page = async (name: string, options: Record<string, string>): Promise<string> => {
    const done = await rehearseCardFile(card(name), options);
    const report = rehearsalReport(done, null, {
      check: 'flashworthy check CARD',
      rehearse: 'flashworthy rehearse CARD',
    });
    return rehearseText(report, { width: 80, color: false });
  };

  it('begins with how it ends', async () => {
    expect(await page('tansy-fit', tansy)).toMatch(/^THE NEW PROGRAM STARTS\.\n/);
    expect(await page('tansy-fit', { ...tansy, installed: '22' })).toMatch(
      /^THE MACHINE WOULD NOT START ANY MORE/,
    );
    expect(await page('tansy-older-loader', tansy)).toMatch(/^THE BOOT LOADER WOULD NOT TAKE THIS CARD/);
    expect(await page('tansy-large-supply', tansy)).toMatch(/^IT WOULD START, BUT THE CHECK REFUSES IT/);
    expect(await page('tansy-fit', notTold)).toMatch(/^CANNOT TELL WHETHER IT STARTS/);
  });

  it('stays within 80 columns, in plain characters', async () => {
    for (const text of [await page('tansy-fit', tansy), await page('burr-exfat', burr)])
      for (const line of text.split('\n')) expect(line).toMatch(/^[\x20-\x7e]{0,80}$/);
  });

  it('tells what to do at the machine only when the card may be put in', async () => {
    const good = await page('tansy-fit', tansy);
    expect(good).toContain('At the machine');
    expect(good).toContain('POINT OF NO RETURN');
    expect(good).toContain('at least 20 seconds');
    const bad = await page('tansy-large-supply', tansy);
    expect(bad).not.toContain('At the machine');
    expect(bad).toContain('The way back');
    expect(bad).toContain('flashworthy check CARD');
  });
});
