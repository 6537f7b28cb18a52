import { mkdir, readdir, readFile, rename, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import standalone from 'ajv/dist/standalone/index.js';
import { build } from 'esbuild';

/** Where the generated validators lie, from the root of the project. */
export const validatorsPath = 'src/board/schema/validators.js';

/** Names of the generated exports for one schema file: `board.schema.json` gives `validateBoard` and `boardSchema`. */
export function exportNames(fileName: string): { validate: string; schema: string } {
  const words = fileName.replace(/\.schema\.json$/, '').split(/[^A-Za-z0-9]+/);
  const pascal = words.map((word) => word.charAt(0).toUpperCase() + word.slice(1)).join('');
  return {
    validate: `validate${pascal}`,
    schema: `${pascal.charAt(0).toLowerCase()}${pascal.slice(1)}Schema`,
  };
}

/**
 * Compiles every `*.schema.json` under `src` of the project at `root` into one self-contained module, since compiling
 * a schema at start-up costs ten times as much as running the compiled code. Throws when a schema is wrong.
 * @param outFile where to write, instead of `validatorsPath` under `root`
 */
export async function generateValidators(root: string, outFile = join(root, validatorsPath)): Promise<void> {
  const schemaFiles = await findSchemas(join(root, 'src'));
  const ajv = new Ajv2020({
    allErrors: true,
    code: { source: true, esm: true },
    // One function for each shared definition, and no English of ajv: half a megabyte less to load.
    inlineRefs: false,
    messages: false,
    strict: true,
    strictRequired: false,
    allowUnionTypes: true,
  });
  const validators: Record<string, string> = {};
  const constants: string[] = [];
  for (const path of schemaFiles) {
    const schema = withoutDescriptions(JSON.parse(await readFile(path, 'utf8')));
    const id = typeof schema.$id === 'string' ? schema.$id : path.slice(root.length + 1);
    const names = exportNames(path.slice(path.lastIndexOf('/') + 1));
    ajv.addSchema(schema, id);
    validators[names.validate] = id;
    constants.push(`export const ${names.schema} = ${JSON.stringify(schema)};`);
  }
  const code = withoutEvaluated(standalone.default(ajv, validators));
  // The code calls small helpers of ajv. Bundling puts them inside, and fails when one cannot be found, so that nothing
  // of ajv is needed at run time.
  const bundled = await build({
    stdin: { contents: `${code}\n${constants.join('\n')}\n`, resolveDir: root, loader: 'js' },
    bundle: true,
    format: 'esm',
    platform: 'neutral',
    target: 'es2022',
    minify: true,
    charset: 'utf8',
    legalComments: 'none',
    absWorkingDir: root,
    write: false,
  });
  const text = bundled.outputFiles[0]?.text ?? '';
  await mkdir(dirname(outFile), { recursive: true });
  // A test run in another process never sees half a file.
  await writeFile(`${outFile}.new`, `// Generated from the JSON Schemas; not edited.\n${text}`);
  await rename(`${outFile}.new`, outFile);
}

/**
 * Without the notes on evaluated properties that ajv attaches to each function: no schema here asks for them, and an
 * assignment outside a function keeps bundlers from leaving out the validators that a program does not use.
 */
function withoutEvaluated(code: string): string {
  if (code.includes('unevaluated'))
    throw new Error('unevaluatedProperties and unevaluatedItems are not supported');
  return code.replace(/\b\w+\.evaluated = \{[^{}]*\};/g, '').replace(/= \w+\.evaluated;/g, '= {};');
}

/** A schema without the descriptions that only editors show. A property that is called `description` stays. */
function withoutDescriptions(schema: Record<string, unknown>): Record<string, unknown> {
  const strip = (value: unknown, isMapOfSchemas: boolean): unknown => {
    if (Array.isArray(value)) return value.map((item) => strip(item, false));
    if (typeof value !== 'object' || value === null) return value;
    const kept = Object.entries(value).filter(
      ([key, inner]) => isMapOfSchemas || key !== 'description' || typeof inner !== 'string',
    );
    return Object.fromEntries(
      kept.map(([key, inner]) => [
        key,
        strip(inner, !isMapOfSchemas && (key === 'properties' || key === '$defs')),
      ]),
    );
  };
  return Object.fromEntries(
    Object.entries(schema).map(([key, value]) => [
      key,
      strip(value, key === 'properties' || key === '$defs'),
    ]),
  );
}

async function findSchemas(folder: string): Promise<string[]> {
  const entries = await readdir(folder, { recursive: true, withFileTypes: true });
  return entries
    .filter((entry) => entry.isFile() && entry.name.endsWith('.schema.json'))
    .map((entry) => join(entry.parentPath, entry.name).replaceAll('\\', '/'))
    .sort();
}
