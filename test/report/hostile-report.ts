import type { Report } from '../../src/report/report.js';
import { refused } from './sample-reports.js';

const mib = 1024 * 1024;

/** Names as a stranger's card may bear them: markup, a reading direction turned round, no letter at all, 4 KiB long. */
export const hostileNames = [
  '<img src=x onerror=alert(1)>.LKF',
  '"><script>alert(1)</script>',
  "' style='position:fixed",
  '</style></title></details><svg onload=alert(1)>',
  'TANSY\u202eFKL.EXE',
  'NUL\u0000\u001b[2J\r\n.LKF',
  'W'.repeat(4096),
  '\u{1f4be}\u{1f525}\u0301\u200b.LKF',
  '\u05d0\u05d1\u05d2 \u0627\u0644\u0639 1.LKF',
  '&lt;b&gt;&#60;',
] as const;

const [first = ''] = hostileNames;

/** A refused card on which every name and every text that may come from outside is hostile, and that is damaged. */
export const hostile: Report = {
  ...refused,
  target: { ...refused.target, path: hostileNames[1] ?? '' },
  board: { id: first, title: hostileNames[3] ?? '', revision: 3 },
  inputs: [{ role: first, path: hostileNames[4] ?? '', sha256: first }],
  stated: [{ fact: 'machine.installed', text: hostileNames[5] ?? '' }],
  findings: refused.findings.map((finding) => ({
    ...finding,
    title: `${finding.title} ${first}`,
    found: `found ${hostileNames.join(' ')}`,
    shown: [...hostileNames],
    total: hostileNames.length + 3,
    where: { path: hostileNames[6] ?? '', offset: mib },
    remedy: finding.remedy.map((step) => ({
      ...step,
      do: `${step.do}\n3. Copy ${first}\n     rm ${hostileNames[2]}`,
    })),
    sources: [{ title: first, url: 'javascript:alert(1)' }],
  })),
  coverage: { silent: [first], coreSilent: [hostileNames[3] ?? ''] },
  facts: {
    media: { bytes: 64 * mib, readErrors: [{ at: 40 * mib, length: 512, cause: first }] },
    partitionTable: { scheme: 'mbr', entries: [] },
    partition: { startByte: mib, bytes: 32 * mib },
    volume: {
      fileSystem: 'FAT16',
      startByte: mib,
      bytes: 32 * mib,
      bytesPerSector: 512,
      clusterBytes: 4096,
      reservedSectors: 1,
      fatCount: 2,
      rootStartByte: mib + 65 * 512,
      dataStartByte: mib + 97 * 512,
    },
    damage: { list: [{ kind: 'loop', text: first, at: mib + 512 }] },
    updateFile: {
      path: hostileNames[6] ?? '',
      bytes: 8192,
      fragments: 2,
      sha256: first,
      pieces: [
        { startByte: 4 * mib, bytes: 4096 },
        { startByte: 8 * mib, bytes: 4096 },
      ],
    },
    image: {
      buildTitle: first,
      release: hostileNames[4] ?? '',
      segments: [{ start: 0x0800_0000, bytes: 0x2_0000 }],
      flashAreas: [{ start: 0x0800_0000, bytes: 0x10_0000 }],
    },
    board: {
      memory: {
        loader: { start: 0x0800_0000, bytes: 0x8000 },
        application: { start: 0x0800_8000, bytes: 0x1_0000 },
        settings: [{ start: 0x0801_8000, bytes: 0x8000 }],
      },
    },
    power: { peakWatts: 200, supplyWatts: 156, peakMarginWatts: -44, notKnown: [first] },
  },
};
