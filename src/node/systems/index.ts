import type { CardSystem } from './system.js';

const systems: Readonly<Partial<Record<NodeJS.Platform, () => Promise<CardSystem>>>> = {
  darwin: async () => (await import('./macos.js')).macosSystem(),
  win32: async () => (await import('./windows.js')).windowsSystem(),
};

/** The system by which cards are found and asked here. One that is not known knows of no card, and says so. */
export const cardSystem = async (platform: NodeJS.Platform = process.platform): Promise<CardSystem> =>
  (await systems[platform]?.()) ?? {
    volumeOf: () => null,
    cards: () => ({
      cards: [],
      incomplete: `flashworthy does not know how to ask this system (${platform}) for its cards`,
    }),
  };
