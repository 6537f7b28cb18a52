/** Kinds of by-products that a computer leaves on a card. */
export type Litter =
  | 'none'
  | 'desktop-index'
  | 'trash'
  | 'resource-fork'
  | 'thumbnail'
  | 'folder-settings'
  | 'recovered';

const byName: Readonly<Record<string, Litter>> = {
  'SYSTEM VOLUME INFORMATION': 'desktop-index',
  '.SPOTLIGHT-V100': 'desktop-index',
  '.FSEVENTSD': 'desktop-index',
  '.TEMPORARYITEMS': 'desktop-index',
  '.METADATA_NEVER_INDEX': 'desktop-index',
  '.DOCUMENTREVISIONS-V100': 'desktop-index',
  '.APDISK': 'desktop-index',
  '.TRASHES': 'trash',
  '.TRASH': 'trash',
  '$RECYCLE.BIN': 'trash',
  RECYCLER: 'trash',
  RECYCLED: 'trash',
  '.DS_STORE': 'folder-settings',
  'DESKTOP.INI': 'folder-settings',
  '.DIRECTORY': 'folder-settings',
  'THUMBS.DB': 'thumbnail',
  'EHTHUMBS.DB': 'thumbnail',
  'LOST.DIR': 'recovered',
};

/** What a file or folder of this name is, when it is a by-product of the owner's computer. Common practice, no published source. */
export function litterOf(name: string): Litter {
  if (name.startsWith('._')) return 'resource-fork';
  const upper = name.toUpperCase();
  if (Object.hasOwn(byName, upper)) return byName[upper] as Litter;
  if (upper.startsWith('.TRASH-')) return 'trash';
  if (/^FOUND\.\d{3}$/.test(upper) || /^FSCK\d{4}\.REC$/.test(upper) || /^FILE\d{4}\.CHK$/.test(upper))
    return 'recovered';
  return 'none';
}
