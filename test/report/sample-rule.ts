import { compileCondition, compileTemplate } from '../../src/rules/compile.js';
import type { Rule } from '../../src/rules/rule.js';

/** A rule with every part that a page shows. */
export const rule: Rule = {
  id: 'volume/cluster-size',
  title: 'Cluster size the boot loader can read',
  hazard: [
    { if: compileCondition('board.loader.erases == "before-reading"'), is: 'unbootable' },
    { is: 'ignored' },
  ],
  keystone: 'volume-found',
  after: ['volume/found'],
  when: compileCondition('present(volume.clusterBytes)'),
  must: compileCondition('volume.clusterBytes in board.loader.clusterBytes'),
  each: null,
  show: null,
  settledBy: null,
  provided: [],
  found: compileTemplate('clusters of {sizeText(volume.clusterBytes)}'),
  needed: compileTemplate('clusters of {sizesText(board.loader.clusterBytes)}'),
  why: ['A card hands out its space\nin pieces of one size.'],
  remedy: [
    { system: 'windows', rights: 'none', erases: true, do: ['1. Open it.\n2. Format it.'] },
    { system: 'linux', rights: 'administrator', erases: true, do: ['Type:\n     mkfs.fat'] },
    { system: 'any', rights: 'none', erases: false, do: ['Use another card.'] },
  ],
  where: null,
  sources: [{ title: 'FAT specification', section: '3.1', url: 'https://example.org/fat' }],
  catalogue: ['2.7'],
  touches: [],
};
