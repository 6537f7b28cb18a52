import type { DriverWidths } from '../card/fat/width.js';
import { FactList } from './fact.js';
import type { FactStore } from './fact-store.js';

const derived = { origin: 'derived' } as const;

/** Sets what drivers make of the width of a FAT volume. */
export function collectWidths(store: FactStore, decided: DriverWidths): void {
  store.set('volume.widthDisputed', decided.disputed, derived);
  store.set('volume.widthByFatfs', decided.fatfs, derived);
  store.set(
    'volume.widthByDriver',
    new FactList([
      `specification: ${decided.specification}`,
      `fatfs: ${decided.fatfs}`,
      `Linux: ${decided.linux}`,
      `Windows: ${decided.windows}`,
    ]),
    derived,
  );
}
