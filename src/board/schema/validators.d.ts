/**
 * Types of `validators.js`, which the build makes from the JSON Schemas (`src/build/schemas.ts`).
 */

/** Where and why a value breaks a schema, as ajv says it. */
export interface SchemaError {
  instancePath: string;
  schemaPath: string;
  keyword: string;
  params: Record<string, unknown>;
}

/** True when the value keeps the schema; else `errors` says why not. */
export interface Validator {
  (value: unknown): boolean;
  errors?: SchemaError[] | null;
}

/** A JSON Schema as plain JSON, without descriptions. */
export type SchemaNode = { readonly [keyword: string]: unknown };

export const validateBoard: Validator;
export const boardSchema: SchemaNode;
export const validateReport: Validator;
export const reportSchema: SchemaNode;
export const validateSummary: Validator;
export const summarySchema: SchemaNode;
export const validateManifest: Validator;
export const manifestSchema: SchemaNode;
export const validateMachine: Validator;
export const machineSchema: SchemaNode;
