import type { Keystone } from '../rules/rule.js';

/** What each keystone proves, as the end of the sentence "It could not be shown that …". */
const words: Readonly<Record<Keystone, string>> = {
  'medium-read': 'everything that was asked of the card was read',
  'volume-found': 'the volume that this boot loader takes is there and of a kind that it reads',
  'update-file-whole': 'the update file is there and whole',
  encoding: 'the update file is written the way this boot loader wants it',
  'application-area': 'the program lies where the board keeps its program',
  'known-build': 'the update file is a published build',
  'for-this-machine': 'that build is meant for this machine',
  companions: 'the companion files are complete',
  'folder-read': 'the whole folder was read',
  'builds-there': 'every declared build is there',
  'builds-pass': 'every build is sound and at its place',
  'choice-proved': 'every machine has exactly one right build',
  'release-sealed': 'the manifest describes the folder as it is',
};

/** The words of a keystone; one that is not known stands for itself. */
export const keystoneText = (name: string): string =>
  Object.hasOwn(words, name) ? words[name as Keystone] : name;
