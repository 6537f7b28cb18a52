import type { Finding, Report } from '../../src/report/report.js';

const sha256 = 'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad';

const finding = (rule: string, outcome: Finding['outcome'], more: Partial<Finding> = {}): Finding => ({
  rule,
  outcome,
  hazard: 'ignored',
  title: `Title of ${rule}`,
  found: 'this',
  needed: 'that',
  why: 'Because.',
  remedy: [],
  sources: [{ practice: 'common practice, no published source' }],
  ...more,
});

const format: Finding['remedy'] = [
  {
    system: 'windows',
    rights: 'none',
    erases: true,
    do: '1. Copy what you want to keep from the card to your computer, and look that it is really there before you go on.\n2. Right-click the drive and choose Format.',
  },
  {
    system: 'linux',
    rights: 'administrator',
    erases: true,
    do: '1. Type this line with the letter of the card in place of X, and be certain that it is the card:\n       sudo mkfs.fat -F 32 -s 8 /dev/sdX1 # four kilobytes a cluster, which is what this board reads\n2. Copy the files.',
  },
  { system: 'any', rights: 'none', erases: false, do: 'Use another card.' },
];

const base: Report = {
  schema: 'flashworthy-report/1',
  tool: { name: 'flashworthy', version: '0.1.0' },
  target: { path: 'card.img', kind: 'image', view: 'medium', bytes: 67_108_864 },
  board: { id: 'tansy', title: 'Larkfield Tansy', revision: 3 },
  inputs: [{ role: 'board profile', path: 'tansy.yaml', sha256 }],
  rules: { version: '0.1.0', sha256 },
  verdict: 'fit',
  hazard: null,
  keystonesMissing: [],
  provided: [],
  stated: [],
  findings: [finding('volume/found', 'holds', { keystone: 'volume-found' })],
  counts: { holds: 1, failed: 0, unknown: 0, notApplicable: 0, waived: 0 },
  coverage: { silent: [], coreSilent: [] },
  facts: { target: { kind: 'image', path: 'card.img' }, media: { bytes: 67_108_864 } },
  filesTotal: 2,
  unseen: {
    'machine.supply': {
      cause: 'not-told',
      text: 'nobody said which supply is fitted',
      settle: 'say --supply',
    },
  },
  absent: ['volume.label'],
};

export const fit: Report = {
  ...base,
  provided: [
    { id: 'card/capacity-class', text: 'the card is 32 GB or smaller' },
    {
      id: 'media/reinserted',
      text: 'the card was ejected properly after the image had been written to it, and nothing was copied to it since',
    },
  ],
  stated: [{ fact: 'machine.installed', text: '31' }],
  coverage: { silent: ['loader.fragments', 'loader.refusesDirty'], coreSilent: [] },
};

export const refused: Report = {
  ...base,
  verdict: 'refused',
  hazard: 'unbootable',
  findings: [
    finding('volume/cluster-size', 'failed', {
      hazard: 'unbootable',
      title: 'Cluster size the boot loader can read',
      found: 'clusters of 32 KiB',
      needed: 'clusters of 4 KiB',
      why: 'A card hands out its space in pieces of one size.\nThis boot loader is written for 4 KiB and reads the wrong places\nwhen the pieces have another size.',
      remedy: format,
      where: { offset: 1_048_589, length: 1 },
    }),
    finding('file/misnamed', 'failed', {
      title: 'No file with nearly the right name',
      found: '2 files',
      needed: 'TANSY.LKF',
      shown: ['TANSY.LKF\u202e.TXT', 'evil\u001b[2J.lkf'],
      total: 12,
      remedy: format,
      where: { path: 'FIRM\u0007WARE/TANSY.LKF' },
    }),
    finding('file/present', 'unknown', {
      missing: [{ fact: 'updateFile.path', cause: 'damaged', text: 'the folder could not be read' }],
    }),
    finding('file/whole', 'unknown', {
      missing: [{ fact: 'updateFile.whole', cause: 'damaged', text: 'the folder could not be read' }],
    }),
    finding('card/brand-new', 'unknown', { hazard: 'advice' }),
    finding('file/litter', 'failed', {
      hazard: 'advice',
      title: 'No litter',
      found: '1 file',
      shown: ['._TANSY.LKF'],
    }),
    finding('volume/label', 'waived', { because: 'the loader of revision 3 does not look at it' }),
    finding('volume/found', 'holds'),
    finding('image/encoding', 'not-applicable', { because: 'volume/cluster-size failed' }),
  ],
  counts: { holds: 1, failed: 3, unknown: 3, notApplicable: 1, waived: 1 },
};

const supply = {
  fact: 'machine.supply',
  cause: 'not-told',
  text: 'nobody said which power supply is fitted',
  settle: 'read the label of the supply and say --supply 24V/6.5A',
} as const;

export const notProven: Report = {
  ...base,
  target: { path: 'release', kind: 'staging', view: 'cached', bytes: null },
  verdict: 'not-proven',
  findings: ['machine/build-fits', 'machine/supply', 'power/peak', 'power/sustained'].map((rule) =>
    finding(rule, 'unknown', { hazard: 'unsafe', missing: [supply] }),
  ),
  counts: { holds: 0, failed: 0, unknown: 4, notApplicable: 0, waived: 0 },
  filesTotal: null,
};

export const nothing: Report = {
  ...base,
  board: null,
  verdict: 'not-proven',
  keystonesMissing: ['medium-read', 'known-build'],
  findings: [],
  counts: { holds: 0, failed: 0, unknown: 0, notApplicable: 0, waived: 0 },
  facts: {},
  filesTotal: null,
  unseen: {},
  absent: [],
};

export const samples = { fit, refused, notProven, nothing };
