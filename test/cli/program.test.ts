import { execFileSync, spawn, spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';

const root = join(import.meta.dirname, '..', '..');
const program = join(root, 'dist', 'flashworthy.js');

interface Outcome {
  code: number | null;
  out: string;
  err: string;
}

/** Runs the built program, off a terminal. */
function run(args: string[], env: Record<string, string> = {}): Outcome {
  const { status, stdout, stderr } = spawnSync(process.execPath, [program, ...args], {
    encoding: 'utf8',
    env: { ...process.env, NO_COLOR: '', FORCE_COLOR: '', ...env },
  });
  return { code: status, out: stdout, err: stderr };
}

let folder: string;
let card: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
  card = join(folder, 'card.img');
  writeFileSync(card, '');
  truncateSync(card, 40 * 1024 * 1024);
  execFileSync('mkfs.fat', ['-F', '16', '-n', 'CARD', card], { stdio: 'ignore' });
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('the command line', () => {
  it('prints its version, the one of the package', () => {
    const { version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'));
    expect(run(['--version'])).toEqual({ code: 0, out: `${version}\n`, err: '' });
    expect(run(['check', '--version'])).toEqual({ code: 0, out: `${version}\n`, err: '' });
  });

  it('helps within 80 columns, on standard output, in English whatever the locale', () => {
    for (const args of [['--help'], ['check', '--help'], ['explain', '--help'], ['rules', '--help']]) {
      const { code, out, err } = run(args, { LC_ALL: 'de_DE.UTF-8', LANG: 'de_DE.UTF-8' });
      expect({ code, err }).toEqual({ code: 0, err: '' });
      for (const line of out.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
      expect(out).toContain('Options:');
    }
    for (const option of [
      'board',
      'boards',
      'manifest',
      'supply',
      'installed',
      'was',
      'set',
      'rules',
      'no-waivers',
      'card',
    ])
      expect(run(['check', '--help']).out).toContain(`--${option} `);
  });

  it('ends with 64, one line and a way on when it is used wrongly', () => {
    const wrong: [string[], RegExp][] = [
      [[], /name a command; see flashworthy --help/],
      [['chekc'], /did you mean check\?/],
      [['check'], /name a card/],
      [['check', card, '--bord', 'x'], /bord \(did you mean --board\?\); see flashworthy check --help/],
      [['check', card, '--board'], /board/],
      [['check', card, '--board='], /--board needs a value/],
      [['check', card, '--format', 'xml'], /--format takes .*text, json/],
      [['check', card, '--report', 'json'], /name=value/],
      [['check', card, '--report', 'xml=a'], /--report takes/],
      [['check', card, '--supply', '1V/1A', '--supply', '2V/2A'], /once only/],
      [['check', card, '--facts', 'some'], /--facts takes all/],
      [['check', card, '--card', 'large'], /--card wants/],
      [['check', card, '--boards', folder], /--board/],
      [['check', card, '--set', 'x'], /name=value/],
      [['check', card, '--noWaivers'], /noWaivers/],
      [['check', card, '--no-fresh'], /no-fresh/],
      [['explain', 'no/such-rule'], /no rule "no\/such-rule"/],
      [['explain', 'a', 'b'], /b/],
      [['rules', '--format', 'html'], /--format takes text, json/],
    ];
    for (const [args, words] of wrong) {
      const { code, out, err } = run(args);
      expect({ args, code, out }).toEqual({ args, code: 64, out: '' });
      expect(err).toMatch(words);
      expect(err).toMatch(/^flashworthy: [^\n]+\n$/);
    }
  });

  it('ends with 66 when something named is not there', () => {
    for (const args of [
      ['check', join(folder, 'no.img')],
      ['check', card, '--board', join(folder, 'no.yaml')],
      ['check', card, '--rules', join(folder, 'no')],
      ['check', join(card, 'inside')],
    ]) {
      const { code, out, err } = run(args);
      expect({ args, code, out }).toEqual({ args, code: 66, out: '' });
      expect(err).toMatch(/^flashworthy: [^\n]+\n$/);
    }
  });

  it('says what to do with things that are no image of a card', () => {
    const firmware = join(folder, 'program.hex');
    writeFileSync(firmware, ':100000010010002041010008490100084D01000852\n');
    const archive = join(folder, 'card.zip');
    writeFileSync(archive, 'PK\u0003\u0004rest');
    for (const [args, words] of [
      [['check', firmware], /Intel HEX.*--staging/],
      [['check', archive], /ZIP archive.*unpack/],
      [['check', folder], /did you mean --staging\?/],
      [['check', '/dev/null'], /neither a file nor a card/],
      [['check', card, '--staging'], /not a folder/],
    ] as const) {
      const { code, err } = run([...args]);
      expect({ args, code }).toEqual({ args, code: 64 });
      expect(err).toMatch(words);
    }
  });
});

describe('checking', () => {
  const isReport = (name: string) => {
    const ajv = new Ajv2020({ allowUnionTypes: true });
    for (const each of ['report', 'summary'])
      ajv.addSchema(
        JSON.parse(readFileSync(join(root, 'dist', 'schema', `${each}.schema.json`), 'utf8')),
        each,
      );
    const validate = ajv.getSchema(name);
    if (!validate) throw new Error(`no schema ${name}`);
    return validate;
  };

  it('is never fit without a board profile, and the report has the published shape', () => {
    const { code, out, err } = run(['check', card, '--format', 'json']);
    expect(err).toBe('');
    const report = JSON.parse(out);
    expect(code).toBe(report.verdict === 'refused' ? 1 : 2);
    expect(report).toMatchObject({
      schema: 'flashworthy-report/1',
      board: null,
      target: { path: card, kind: 'image' },
    });
    const validate = isReport('report');
    validate(report);
    expect(validate.errors).toBeNull();
  });

  it('takes the words of the owner as they are', () => {
    const board = join(root, 'samples', 'boards', 'tansy.yaml');
    const { out, err } = run([
      'check',
      card,
      '--board',
      board,
      '--installed',
      '30',
      '--card',
      '8GB',
      '--format',
      'json',
    ]);
    expect(err).toBe('');
    const report = JSON.parse(out);
    expect(report.board.id).toBe('tansy');
    const digest = createHash('sha256').update(readFileSync(board)).digest('hex');
    expect(report.inputs).toEqual([{ role: 'board profile', path: board, sha256: digest }]);
    expect(report.stated).toContainEqual({ fact: 'machine.installed', text: '30' });
    expect(run(['check', card, '--board', 'tansy', '--boards', join(root, 'samples', 'boards')]).err).toBe(
      '',
    );
    const wrong = run(['check', card, '--board', board, '--set', 'colour=red']);
    expect(wrong).toMatchObject({ code: 64, out: '', err: expect.stringContaining('colour') });
  });

  it('takes further rules, and says where one is wrong', () => {
    const rules = join(folder, 'rules');
    mkdirSync(join(rules, 'own'), { recursive: true });
    const rule = (must: string): string => `id: own/label
title: A label
hazard: advice
after: [volume/found]
must: |-
  ${must}
found: "{volume.label}"
needed: any label
why: so that people find it
remedy: [{ system: any, rights: none, erases: false, do: name it }]
sources: [{ practice: "common practice, no published source" }]
catalogue: []
cases:
  - { name: none, facts: { volume.label: !absent }, expect: failed, mend: { volume.label: CARD } }
  - { name: one, facts: { volume.label: CARD }, expect: holds }
  - { name: not seen, facts: {}, expect: unknown }
`;
    writeFileSync(join(rules, 'own', 'label.yaml'), rule('present(volume.label)'));
    const { rules: list } = JSON.parse(run(['rules', '--rules', rules, '--format', 'json']).out);
    const built = JSON.parse(run(['rules', '--format', 'json']).out);
    expect(list.map(({ id }: { id: string }) => id).filter((id: string) => id.startsWith('own/'))).toEqual([
      'own/label',
    ]);
    expect(list.length).toBe(built.rules.length + 1);
    expect(run(['explain', 'own/label', '--rules', rules]).out).toContain('so that people find it');
    writeFileSync(join(rules, 'own', 'label.yaml'), rule('present(volume.lable)'));
    const { code, out, err } = run(['check', card, '--rules', rules]);
    expect({ code, out }).toEqual({ code: 64, out: '' });
    expect(err).toMatch(/own\/label\.yaml:6:\d+: .*volume\.lable/);
    writeFileSync(join(rules, 'own', 'label.yaml'), rule('!present(volume.label)'));
    expect(run(['rules', '--rules', rules])).toMatchObject({
      code: 64,
      err: expect.stringContaining('case'),
    });
  });

  it('says the same of the image packed, and twice the same', () => {
    const packed = join(folder, 'packed');
    writeFileSync(packed, gzipSync(readFileSync(card)));
    const [plain, again, unpacked] = [card, card, packed].map((path) =>
      run(['check', path, '--format', 'json']),
    );
    expect(again).toEqual(plain);
    const strip = (text: string | undefined): unknown => {
      const { target, facts, ...rest } = JSON.parse(text ?? '');
      return { ...rest, media: facts.media.bytes, bytes: target.bytes, volume: facts.volume };
    };
    expect(strip(unpacked?.out)).toEqual(strip(plain?.out));
  });

  it('never changes what it reads', () => {
    const digest = (): string => createHash('sha256').update(readFileSync(card)).digest('hex');
    const before = digest();
    for (const args of [
      ['check', card],
      ['check', card, '-v', '--fresh', '--card', '32GB'],
    ])
      run(args);
    expect(digest()).toBe(before);
    for (const path of [card, join(folder, '.', 'card.img')]) {
      const { code, err } = run(['check', card, '--output', path, '--force']);
      expect(code).toBe(64);
      expect(err).toContain('name of its own');
    }
    expect(digest()).toBe(before);
  });

  it('writes reports where told, and overwrites nothing unless told', () => {
    const json = join(folder, 'report.json');
    const text = join(folder, 'report.txt');
    const first = run(['check', card, '--report', `json=${json}`, '--report', `text=${text}`]);
    expect(first.err).toBe('');
    expect(JSON.parse(readFileSync(json, 'utf8')).schema).toBe('flashworthy-report/1');
    expect(readFileSync(text, 'utf8')).toBe(first.out);
    const again = run(['check', card, '--output', json]);
    expect(again).toMatchObject({ code: 74, out: '', err: expect.stringContaining('--force') });
    const forced = run(['check', card, '--output', text, '--force']);
    expect(forced).toMatchObject({ code: first.code, out: '', err: '' });
    expect(run(['check', card, '--output', join(folder, 'no', 'x')]).code).toBe(74);
    expect(run(['check', card, '--output', folder, '--force']).code).toBe(74);
    expect(readdirSync(folder).filter((name) => name.endsWith('.tmp'))).toEqual([]);
  });

  it('checks several targets, and lets the worst exit code through', () => {
    const one = run(['check', card, '--format', 'json']);
    const { code, out, err } = run(['check', card, join(folder, 'no.img'), card, '--format', 'json']);
    expect(code).toBe(66);
    expect(err).toContain('no.img');
    const summary = JSON.parse(out);
    const validate = isReport('summary');
    validate(summary);
    expect(validate.errors).toBeNull();
    expect(summary.reports).toEqual([JSON.parse(one.out), JSON.parse(one.out)]);
    expect(summary.unchecked).toMatchObject([{ exit: 66, path: join(folder, 'no.img') }]);
    expect(run(['check', card, card]).code).toBe(one.code);
  });

  it('checks files that are not on a card', () => {
    const stage = join(folder, 'stage');
    mkdirSync(stage, { recursive: true });
    writeFileSync(join(stage, 'A.BIN'), 'x');
    const { code, out, err } = run(['check', '--staging', stage, '--format', 'json']);
    expect(err).toBe('');
    expect([1, 2]).toContain(code);
    expect(JSON.parse(out).target).toEqual({ path: stage, kind: 'staging', view: 'cached', bytes: null });
    expect(run(['check', '--staging', stage, '--output', join(stage, 'r.txt')])).toMatchObject({
      code: 64,
      out: '',
    });
  });
});

describe('the streams', () => {
  it('are plain off a terminal, coloured on demand', () => {
    expect(run(['check', card]).out).not.toContain('\u001b');
    expect(run(['check', card, '--color']).out).toContain('\u001b[');
    expect(run(['check', card, '--color', '--no-color']).out).not.toContain('\u001b');
  });

  it('are coloured on a terminal unless NO_COLOR is set and not empty', () => {
    const typed = (env: string): string =>
      execFileSync(
        'script',
        ['-qec', `env ${env} ${process.execPath} ${program} explain volume/cluster-size`, '/dev/null'],
        {
          encoding: 'utf8',
          input: '',
        },
      );
    expect(typed('NO_COLOR= TERM=xterm')).toContain('\u001b[1m');
    expect(typed('NO_COLOR=1 TERM=xterm')).not.toContain('\u001b');
    expect(typed('TERM=dumb')).not.toContain('\u001b');
  });

  it('may close early: the exit code still tells the verdict', async () => {
    const expected = run(['check', card]).code;
    const child = spawn(process.execPath, [program, 'check', card, '--format', 'json'], {
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    child.stdout.destroy();
    let err = '';
    child.stderr.on('data', (text) => {
      err += text;
    });
    const code = await new Promise((resolve) => child.on('close', resolve));
    expect({ code, err }).toEqual({ code: expected, err: '' });
  });

  it('that cannot be written end with 74', () => {
    const full = openSync('/dev/full', 'w');
    const { status, stderr } = spawnSync(process.execPath, [program, 'rules'], {
      stdio: ['ignore', full, 'pipe'],
      encoding: 'utf8',
    });
    expect(status).toBe(74);
    expect(stderr).toMatch(/^flashworthy: standard output cannot be written/);
  });
});

describe('rules and their pages', () => {
  it('are listed within 80 columns, each with a page', () => {
    const list = JSON.parse(run(['rules', '--format', 'json']).out);
    expect(list.rules.length).toBeGreaterThan(10);
    for (const rule of list.rules)
      expect(rule).toMatchObject({ id: expect.any(String), title: expect.any(String) });
    const table = run(['rules']).out;
    for (const line of table.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
    for (const { id } of list.rules) expect(table).toContain(id);
    const known = run(['explain']).out;
    for (const { id } of list.rules) expect(known).toContain(`  ${id} `);
    const { code, out, err } = run(['explain', list.rules[0].id]);
    expect({ code, err }).toEqual({ code: 0, err: '' });
    expect(out).toContain('Sources');
    expect(run(['explain', 'volume/cluster-sise']).err).toContain('did you mean volume/cluster-size?');
    expect(run(['explain', 'cluster']).err).toContain('volume/cluster-size');
  });
});

describe('the bundle', () => {
  it('reads nothing outside the package, and one program with its compiled code', () => {
    const log = join(folder, 'strace.log');
    const tmp = join(folder, 'tmp');
    mkdirSync(tmp, { recursive: true });
    spawnSync(
      'strace',
      ['-f', '-o', log, '-e', 'trace=open,openat,readlink', process.execPath, program, 'check', card],
      {
        env: { ...process.env, LC_ALL: 'de_DE.UTF-8', TMPDIR: tmp, NODE_COMPILE_CACHE: '' },
      },
    );
    const opened = [...readFileSync(log, 'utf8').matchAll(/open(?:at)?\((?:AT_FDCWD, )?"([^"]+)"/g)].map(
      ([, path]) => path ?? '',
    );
    expect(opened).toContain(join(root, 'dist', 'rules.json'));
    const outside = opened.filter(
      (path) =>
        path.startsWith(root) &&
        !path.startsWith(join(root, 'dist')) &&
        path !== join(root, 'package.json') &&
        path !== root,
    );
    expect(outside).toEqual([]);
    expect(opened.filter((path) => /locales|node_modules|\.ya?ml$/.test(path))).toEqual([]);
    // The program is one file; what it must not do for a check is compile rules, which takes the expression library.
    const parts = opened.filter((path) => path.startsWith(join(root, 'dist', 'parts')));
    expect(parts.filter((path) => path.endsWith('.cjs'))).toHaveLength(1);
    expect(parts.filter((path) => path.endsWith('.cache'))).toHaveLength(1);
  });

  it('has a core that needs no Node', () => {
    const seen = new Set<string>();
    const follow = (path: string): void => {
      if (seen.has(path)) return;
      seen.add(path);
      const text = readFileSync(path, 'utf8');
      for (const [, specifier = ''] of text.matchAll(/^(?:import|export)\b[^'"]*["']([^'"]+)["'];?$/gm)) {
        expect(specifier).toMatch(/^\.\.?\//);
        follow(join(path, '..', specifier));
      }
    };
    follow(join(root, 'dist', 'core.js'));
    expect(seen.size).toBeGreaterThan(1);
  });
});
