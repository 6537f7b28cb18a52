import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';

const root = join(import.meta.dirname, '..', '..');
const program = join(root, 'dist', 'flashworthy.js');
const sample = (name: string): string => join(root, 'samples', 'cards', `${name}.img.gz`);
const burr = ['--board', join(root, 'samples', 'boards', 'burr.yaml'), '--set', 'panel=none'];

interface Outcome {
  code: number | null;
  out: string;
  err: string;
}

/** Runs the built program, off a terminal. */
function run(args: string[], cwd: string = root): Outcome {
  const { status, stdout, stderr } = spawnSync(process.execPath, [program, ...args], {
    encoding: 'utf8',
    cwd,
    env: { ...process.env, NO_COLOR: '', FORCE_COLOR: '' },
  });
  return { code: status, out: stdout, err: stderr };
}

let folder: string;
/** Reports of one card that was refused, and of three. */
let report: string;
let summary: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
  report = join(folder, 'report.json');
  summary = join(folder, 'summary.json');
  const check = (path: string, ...cards: string[]): void =>
    void run(['check', ...cards.map(sample), ...burr, '--report', `json=${path}`]);
  check(report, 'burr-cluster-size');
  check(summary, 'burr-good', 'burr-fragmented', 'burr-companion-missing');
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const ok = (args: string[]): string => {
  const { code, out, err } = run(args);
  expect({ args, code, err }).toEqual({ args, code: 0, err: '' });
  for (const line of out.split('\n'))
    if (!/^ {7}|https?:/.test(line))
      expect({ line, width: line.length <= 80 }).toEqual({ line, width: true });
  return out;
};

describe('explain', () => {
  it('alone lists the rules group by group, and how to have those of a card explained', () => {
    const out = ok(['explain']);
    const { rules } = JSON.parse(run(['rules', '--format', 'json']).out);
    for (const { id } of rules)
      expect(out.split(/\s+/).filter((word) => word === id).length).toBeGreaterThan(0);
    expect(out).toContain('The file system on it\n');
    expect(out).toContain('flashworthy explain --report report.json');
  });

  it('of a rule gives its examples, and explains the words of the page', () => {
    const out = ok(['explain', 'volume/cluster-size']);
    const { text } = { text: readFileSync(join(root, 'rules/volume/cluster-size.yaml'), 'utf8') };
    const names = [...text.matchAll(/^ {2}- name: (.+)$/gm)].map(([, name]) => name ?? '');
    expect(names.length).toBeGreaterThan(1);
    for (const name of names) expect(out.replaceAll(/\s+/g, ' ')).toContain(`- ${name}: `);
    expect(out).toMatch(/\nWords used here\n(?:.*\n)* {2}cluster: The piece of space/);
  });

  it('of a rule of somebody else gives its examples, too', () => {
    const rules = join(folder, 'rules');
    mkdirSync(join(rules, 'own'), { recursive: true });
    const source = readFileSync(join(root, 'rules/volume/cluster-size.yaml'), 'utf8');
    writeFileSync(join(rules, 'own', 'size.yaml'), source.replace('id: volume/cluster-size', 'id: own/size'));
    const out = ok(['explain', 'own/size', '--rules', rules]);
    expect(out).toContain('\nExamples\n');
  });

  it('with a report explains what failed there, with the values of that card', () => {
    const saved = JSON.parse(readFileSync(report, 'utf8'));
    const failed = saved.findings.filter(
      ({ outcome, hazard }: { outcome: string; hazard: string }) =>
        outcome === 'failed' && hazard !== 'advice',
    );
    expect(failed).toHaveLength(1);
    const [{ rule, found, needed }] = failed;
    for (const option of [report, `json=${report}`]) {
      const out = ok(['explain', '--report', option]);
      expect(out).toContain(`\n${rule}\n`);
      expect(out).toContain(`Found: ${found}\n`);
      expect(out).toContain(`Needed: ${needed}\n`);
      expect(out).not.toContain('angle brackets');
      expect(out).toMatch(/burr-cluster-size\.img\.gz:\s+one\s+rule\s+failed\./);
    }
  });

  it('with a report of many cards takes them one after the other', () => {
    const out = ok(['explain', '--report', summary]).replaceAll(/\s+/g, ' ');
    const places = ['burr-good.img.gz: no rule failed', 'volume/fragments', 'companion/complete'].map(
      (text) => out.indexOf(text),
    );
    expect(places.every((place) => place >= 0)).toBe(true);
    expect(places).toEqual([...places].sort((one, other) => one - other));
  });

  it('of a rule with a report tells how that rule came out', () => {
    expect(ok(['explain', 'volume/cluster-size', '--report', report])).toContain('Outcome: failed');
    expect(ok(['explain', 'volume/found', '--report', report])).toContain('Outcome: passed');
  });

  it('of a report that another version made says what it does not know', () => {
    const path = join(folder, 'other.json');
    writeFileSync(path, readFileSync(report, 'utf8').replaceAll('volume/cluster-size', 'volume/gone'));
    expect(ok(['explain', '--report', path]).replaceAll(/\s+/g, ' ')).toContain('has no rule volume/gone');
    expect(ok(['explain', 'volume/cluster-size', '--report', path]).replaceAll(/\s+/g, ' ')).toContain(
      'the report does not name the rule volume/cluster-size',
    );
  });

  it('lets nothing out of a report reach the terminal as it is', () => {
    const path = join(folder, 'evil.json');
    const saved = JSON.parse(readFileSync(report, 'utf8'));
    for (const finding of saved.findings) finding.found = 'evil\u001b[2J\u202e';
    saved.target.path = 'A\u001b]0;x\u0007.img';
    writeFileSync(path, JSON.stringify(saved));
    const out = ok(['explain', '--report', path]);
    expect(out).not.toMatch(/\p{Cf}|[^\P{Cc}\n]/u);
    expect(out).toContain('evil<U+001B>[2J<U+202E>');
  });

  it('ends with 66 when the report is not there, and with 64 when it is none', () => {
    const text = join(folder, 'report.txt');
    writeFileSync(text, 'REFUSED\n');
    for (const [path, code, words] of [
      [join(folder, 'no.json'), 66, /there is no such file/],
      [folder, 64, /is not a file/],
      [text, 64, /is no report: it is not JSON/],
      [join(root, 'package.json'), 64, /no report of flashworthy/],
    ] as const) {
      const result = run(['explain', '--report', path]);
      expect({ path, code: result.code, out: result.out }).toEqual({ path, code, out: '' });
      expect(result.err).toMatch(words);
    }
  });

  it('writes nothing anywhere', () => {
    const empty = mkdtempSync(join(tmpdir(), 'flashworthy-'));
    try {
      for (const args of [['explain'], ['explain', 'volume/found'], ['explain', '--report', report]])
        expect(run(args, empty).code).toBe(0);
      expect(readdirSync(empty)).toEqual([]);
    } finally {
      rmSync(empty, { recursive: true });
    }
  });
});
