/** Texts of rules with values filled in. */
import type { Scalar } from '../facts/fact.js';
import { type EvaluationContext, run, Unknown } from './evaluate.js';
import type { Template } from './rule.js';
import { visible } from './visible.js';

/** What stands in a text for a value that was not seen. */
export const notSeen = '(not seen)';
/** What stands in a text for something proved not to exist. */
export const none = '(none)';

const plain = (value: Scalar): string => {
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'string') return visible(value);
  // Twelve digits: no owner wants to read 0.30000000000000004 watts.
  return String(Number.isInteger(value) ? value : Number(value.toPrecision(12)));
};

/**
 * The text with its expressions evaluated. A value that was not seen prints as `(not seen)`, one that is proved
 * absent as `(none)`; hidden and control characters of values are written out, those of the rule's own text stay.
 */
export function render(template: Template, context: EvaluationContext): string {
  let text = '';
  for (const part of template) {
    if (typeof part === 'string') {
      text += part;
      continue;
    }
    const value = run(part.expression, context);
    if (value instanceof Unknown)
      text += [...value.missing.values()].every((missing) => missing.kind === 'absent') ? none : notSeen;
    else if (typeof value === 'object') throw new Error('a text of a rule tried to print a list');
    else text += plain(value);
  }
  return text;
}
