import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Units } from '../../../src/node/systems/allocation-units.js';
import type { Asking } from '../../../src/node/systems/asking.js';
import type { CallAnswer, CallOut } from '../../../src/node/systems/call-out.js';

const fixtures = join(import.meta.dirname, '..', '..', 'fixtures');

/** What a call prints by `test/fixtures`. All of it was written from documentation: see the notes there. */
export const fixture = (path: string): CallAnswer => ({
  printed: readFileSync(join(fixtures, path), 'utf8'),
});

/** A system that gives this answer to every call, and the calls that it was given. */
export function asked(
  answer: CallAnswer,
  mountPoint: string | null = null,
  units: Units | null = null,
): { asking: Asking; calls: CallOut[] } {
  const calls: CallOut[] = [];
  return {
    calls,
    asking: {
      call: (call) => {
        calls.push(call);
        return answer;
      },
      mountPointOf: () => mountPoint,
      unitsOf: () => units,
    },
  };
}

/** Answers that no parser may believe, choke on or take long for. */
export const hostileAnswers: readonly (readonly [string, CallAnswer])[] = [
  ['nothing', { printed: '' }],
  ['blanks', { printed: ' \n\t\n' }],
  ['binary', { printed: '\u0000\u0001\u0002\uFFFD' }],
  ['a message', { printed: 'Usage: please say what you want\n' }],
  ['a number', { printed: '42' }],
  ['null', { printed: 'null' }],
  ['half a JSON text', { printed: '{"disks":[{"Number":2,"Fr' }],
  [
    'lists for groups',
    { printed: '{"volume":[1],"partition":"x","disk":[[]],"disks":[null,7,"x",[]],"cim":[0]}' },
  ],
  [
    'other kinds of values',
    {
      printed:
        '{"volume":{"FileSystem":7,"AllocationUnitSize":"32768"},"disks":[{"Number":"2","Size":1e300,"Volumes":{"DriveType":"Removable"}}],"disk":{"Size":-1}}',
    },
  ],
  ['a prototype', { printed: '{"__proto__":{"disks":[{"Number":2,"Size":1,"MediaType":"Removable"}]}}' }],
  ['deep JSON', { printed: '['.repeat(200_000) }],
  ['broken XML', { printed: '<plist version="1.0"><dict><key>WholeDisk</key><true/></plist>' }],
  [
    'XML that breaks off',
    { printed: '<?xml version="1.0"?><plist version="1.0"><dict><key>WholeDisk</key>' },
  ],
  ['a list for the root', { printed: '<plist version="1.0"><array><dict></dict></array></plist>' }],
  [
    'a document with entities',
    { printed: '<!DOCTYPE plist [<!ENTITY a "b">]><plist version="1.0"><dict></dict></plist>' },
  ],
  ['a bad character', { printed: '<plist version="1.0"><dict><key>&#99999999;</key><true/></dict></plist>' }],
  [
    'an XML prototype',
    {
      printed:
        '<plist version="1.0"><dict><key>__proto__</key><dict><key>WholeDisk</key><true/><key>RemovableMedia</key><true/></dict></dict></plist>',
    },
  ],
  [
    'deep XML',
    { printed: `<plist version="1.0"><dict><key>a</key>${'<array>'.repeat(20_000)}</dict></plist>` },
  ],
  ['ten million characters', { printed: 'x'.repeat(10_000_000) }],
  ['ten million characters of XML', { printed: `<plist><dict>${'<key>a</key><true/>'.repeat(500_000)}` }],
  ['many lists', { printed: '<plist version="1.0"><dict></dict></plist>'.repeat(50_000) }],
  ['a failure', { failure: 'the program is not on this computer' }],
];
