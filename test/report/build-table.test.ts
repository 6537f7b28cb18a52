import { describe, expect, it } from 'vitest';
import { buildTable } from '../../src/report/build-table.js';
import type { Json, Report } from '../../src/report/report.js';

const table = (builds: number, machine: string, total?: number): string[] => {
  const fits: Json[] = Array.from({ length: builds }, (_, index) => (index === 0 ? 'preferred' : 'both'));
  const facts: Report['facts'] = {
    board: { builds: Array.from({ length: builds }, (_, index) => ({ id: `build-${index + 1}` })) },
    releaseFolder: {
      matrix: [{ machine, supply: '24V/5A', preferred: 'build-1', fits }],
      ...(total === undefined ? {} : { matrixTotal: total }),
    },
  };
  return buildTable({ facts }, 80);
};

describe('the table of builds and machines', () => {
  it('has a column for each build, in as many parts as the width takes', () => {
    const lines = table(14, 'release below 24');
    // 80 less 28 for the machine and 2 in front make six columns of eight.
    expect(lines.filter((line) => line.includes('Machine'))).toHaveLength(3);
    expect(lines.filter((line) => line.includes('MEANT') && line.includes('24V/5A'))).toHaveLength(1);
    for (let build = 1; build <= 14; build++) expect(lines).toContain(`  ${build} = build-${build}`);
    for (const line of lines) expect(line.length).toBeLessThanOrEqual(80);
    expect(lines.some((line) => line.includes('both    refused'))).toBe(true);
    expect(lines.some((line) => line.includes('supply  refused'))).toBe(false);
  });

  it('breaks a long machine, and says how many more there are', () => {
    const lines = table(2, 'boot loader newer, board revision A or B or C, display of the second series', 70);
    for (const line of lines) expect(line.length).toBeLessThanOrEqual(80);
    expect(lines.at(-1)).toBe('  and 69 more machines, all of which were tried.');
  });

  it('is not there where the report holds none, whatever it claims', () => {
    for (const matrix of [undefined, null, 'x', [], 7] as Json[])
      expect(buildTable({ facts: { releaseFolder: { matrix } } }, 80)).toEqual([]);
    expect(buildTable({ facts: { releaseFolder: { matrix: [{}, 3] } } }, 80).join('\n')).not.toContain(
      'undefined',
    );
  });
});
