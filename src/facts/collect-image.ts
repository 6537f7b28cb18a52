import type { ResolvedProfile } from '../board/profile.js';
import type { Digests } from '../bytes/digests.js';
import type { Decoded } from '../firmware/encodings/encoding.js';
import { detectEncodings } from '../firmware/encodings/registry.js';
import { lookAlike } from '../firmware/look-alike.js';
import type { UpdateFile } from './collect-update-file.js';
import { Absent, FactList, type FactValue, Unseen } from './fact.js';
import type { FactStore } from './fact-store.js';

const notBuiltYet = new Unseen('not-built-yet', 'this version of flashworthy does not compare builds yet');

/**
 * Sets `image.*` from the bytes of the update file. Content decides the encoding, never the name. Without an update
 * file all of it is unseen, for the reason for which the file is.
 */
export function collectImage(
  store: FactStore,
  file: UpdateFile | null,
  profile: ResolvedProfile | null,
  digests: Digests,
): Decoded | null {
  for (const path of ['image.build', 'image.release', 'image.isKnownBuild', 'image.isForThisMachine'])
    store.set(path, notBuiltYet);
  const bytes = file?.bytes ?? null;
  if (file === null || bytes === null) {
    store.setGroup('image', whyNoBytes(store, file));
    return null;
  }
  const look = lookAlike(bytes, bytes.length);
  store.set(
    'image.looksLike',
    look?.what ?? new Absent('nothing in it says that it is something else than firmware'),
  );
  const blank = look?.code;
  store.set(
    'image.blank',
    blank === 'all-zero' || blank === 'all-ones' || blank === 'blank-head' ? blank : 'no',
  );

  const application = profile?.memory.application;
  const area = typeof application === 'object' ? application : undefined;
  const found = detectEncodings(bytes)[0];
  if (found === undefined) {
    const none = new Absent(
      look ? `the update file is ${look.what}, not firmware` : 'the update file is no firmware',
    );
    store.setGroup('image', none);
    store.set('image.inApplicationArea', none);
    return null;
  }
  const sha256 = (content: Uint8Array): string => {
    const digest = digests.sha256();
    digest.update(content);
    return digest.hex();
  };
  const decoded = found.encoding.decode(bytes, { sha256, ...(area ? { loadAddress: area.start } : {}) });
  const how = { origin: 'derived', where: { path: file.entry.path } } as const;
  store.set('image.encoding', decoded.encoding, how);
  store.set('image.whole', decoded.whole, how);
  store.set(
    'image.problems',
    new FactList(decoded.problems.map(({ code, text, at }) => ({ code, text, at }))),
    how,
  );
  store.set('image.bytes', decoded.map.byteCount, how);
  // A file of plain bytes names no address: the profile says where the loader puts it.
  const placed = decoded.encoding !== 'raw' || area !== undefined;
  const where = whyNoPlace(profile);
  store.set('image.loadAddress', placed ? (decoded.map.start ?? noProgram) : where, how);
  store.set('image.endAddress', placed ? (decoded.map.end ?? noProgram) : where, how);
  store.set('image.inApplicationArea', inApplicationArea(decoded, profile), how);
  return decoded;
}

const noProgram = new Absent('the update file holds no bytes of program');

function whyNoBytes(store: FactStore, file: UpdateFile | null): Unseen | Absent {
  const whole = store.value('updateFile.whole');
  if (whole instanceof Unseen || whole instanceof Absent) return whole;
  return file === null
    ? new Absent('there is no update file')
    : new Unseen(
        'over-limit',
        'the update file is larger than flashworthy reads, or was not read to its end',
      );
}

function whyNoPlace(profile: ResolvedProfile | null): Unseen {
  const open = profile?.open['memory.application'];
  if (open) return new Unseen('not-told', open.text, open.settle);
  return new Unseen(
    'profile-silent',
    'the board profile does not say where in the memory the program goes',
    'ask the author of the profile for memory.application',
  );
}

/** Whether every byte of the program lies inside the application area; true when the author says that any place will do. */
function inApplicationArea(decoded: Decoded, profile: ResolvedProfile | null): FactValue {
  const application = profile?.memory.application;
  if (application === undefined) return whyNoPlace(profile);
  if (decoded.encoding === 'scrambled' || decoded.encoding === 'packed-gzip')
    return new Unseen('not-visible', 'the program is scrambled or packed, so its addresses cannot be seen');
  if (!decoded.whole)
    return new Unseen('damaged', 'the firmware file is not whole, so not every address was seen');
  if (decoded.map.byteCount === 0) return false;
  if (application === 'any') return true;
  return decoded.map.outside(application.start, application.start + application.bytes).length === 0;
}
