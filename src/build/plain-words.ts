import { format } from 'node:util';

/**
 * Stands in for the translation library of yargs in the bundle. The real one looks for files of words beside itself
 * at every start, where the bundle has none; the program speaks English only, and the keys are the English words.
 */
export default function plainWords(): object {
  let locale = 'en';
  return {
    __: (text: string, ...values: unknown[]) => format(text, ...values),
    __n: (one: string, many: string, count: number, ...values: unknown[]) => {
      const text = count === 1 ? one : many;
      return format(text, ...(text.includes('%d') ? [count] : []), ...values);
    },
    getLocale: () => locale,
    setLocale: (name: string) => {
      locale = name;
    },
    updateLocale: () => {},
  };
}
