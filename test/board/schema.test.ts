import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { exportNames, generateValidators, validatorsPath } from '../../src/build/schemas.js';
import { encodings } from '../../src/facts/schema.js';
import { checksumKinds } from '../../src/firmware/checksums.js';
import { cores } from '../../src/firmware/processors.js';
import { hazards } from '../../src/rules/rule.js';

const root = join(import.meta.dirname, '../..');
let folder: string;
let fresh: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'flashworthy-schemas-'));
  fresh = join(folder, 'validators.mjs');
  await generateValidators(root, fresh);
});
afterAll(() => rm(folder, { recursive: true }));

test('the validators in use are those of the schemas as they stand', async () => {
  expect(await readFile(join(root, validatorsPath), 'utf8')).toBe(await readFile(fresh, 'utf8'));
});

test('they run where no package can be found', async () => {
  // The folder is outside the project, so that an import of ajv would fail.
  const module: { validateBoard: (value: unknown) => boolean } = await import(pathToFileURL(fresh).href);
  expect(module.validateBoard({ schema: 'flashworthy-board/1', id: 'x', title: 'Ä', revision: 1 })).toBe(
    true,
  );
  expect(module.validateBoard({ schema: 'flashworthy-board/1', id: 'x', title: '', revision: 1 })).toBe(
    false,
  );
});

test('export names follow the file name', () => {
  expect(exportNames('board.schema.json')).toEqual({ validate: 'validateBoard', schema: 'boardSchema' });
  expect(exportNames('machine-record.schema.json')).toEqual({
    validate: 'validateMachineRecord',
    schema: 'machineRecordSchema',
  });
});

test('the words of the schema are those that the readers know', async () => {
  const schema = JSON.parse(await readFile(join(root, 'src/board/schema/board.schema.json'), 'utf8'));
  const { processor, update, derating } = schema.properties;
  const inline = processor.anyOf[1].anyOf[1].properties;
  expect(inline.core.enum).toEqual(cores);
  expect(new Set(update.anyOf[1].properties.checksum.anyOf[1].properties.kind.enum)).toEqual(
    new Set(checksumKinds),
  );
  expect(update.anyOf[1].properties.encoding.anyOf[1].enum).toEqual(encodings);
  expect(derating.anyOf[1].properties.hazard.enum).toEqual(hazards);
});
