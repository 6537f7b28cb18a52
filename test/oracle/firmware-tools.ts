import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A folder of one test file's own, removed by `remove`. */
export class Workshop {
  private readonly folder = mkdtempSync(join(tmpdir(), 'firmware-'));
  path(name: string): string {
    return join(this.folder, name);
  }
  write(name: string, content: Uint8Array | string): string {
    writeFileSync(this.path(name), content);
    return this.path(name);
  }
  read(name: string): Uint8Array {
    return new Uint8Array(readFileSync(this.path(name)));
  }
  /** Runs a tool in the folder and answers its standard output; throws when it fails. */
  run(tool: string, ...options: string[]): string {
    return execFileSync(tool, options, {
      cwd: this.folder,
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'pipe'],
    });
  }
  status(tool: string, ...options: string[]): number | null {
    return spawnSync(tool, options, { cwd: this.folder, stdio: 'ignore' }).status;
  }
  remove(): void {
    rmSync(this.folder, { recursive: true, force: true });
  }
}

const program = `
extern unsigned _stack;
volatile unsigned counter = 0x12345678;
const char marker[] __attribute__((used, section(".rodata"))) = "TANSY-TEST";
void reset(void) { for (;;) counter += 3; }
void fault(void) { for (;;) ; }
__attribute__((section(".vectors"), used))
const void *const vectors[16] = {
  &_stack, reset, fault, fault, 0, 0, 0, 0, 0, 0, 0, fault, 0, 0, fault, fault,
};
`;

const script = (base: number, stack: number): string => `
MEMORY {
  FLASH (rx) : ORIGIN = ${base}, LENGTH = 64K
  RAM (rwx) : ORIGIN = 0x20000000, LENGTH = 20K
}
ENTRY(reset)
_stack = ${stack};
SECTIONS {
  .text : { KEEP(*(.vectors)) *(.text*) *(.rodata*) . = ALIGN(8); } > FLASH
  .data : { *(.data*) . = ALIGN(8); } > RAM AT > FLASH
  .bss : { *(.bss*) *(COMMON) } > RAM
  /DISCARD/ : { *(.ARM.*) *(.comment) }
}
`;

/** Compiles and links a small Cortex-M3 program at an address; leaves NAME.elf, .hex, .srec and .bin. */
export function buildProgram(
  shop: Workshop,
  name: string,
  base: number,
  { stack = 0x20005000, bigEndian = false } = {},
): void {
  shop.write(`${name}.c`, program);
  shop.write(`${name}.ld`, script(base, stack));
  const order = bigEndian ? '-mbig-endian' : '-mlittle-endian';
  shop.run(
    'arm-none-eabi-gcc',
    ...['-mcpu=cortex-m3', '-mthumb', order, '-Os', '-nostdlib', '-Wl,--build-id=none', '-T', `${name}.ld`],
    ...[`${name}.c`, '-o', `${name}.elf`],
  );
  for (const [format, extension] of [
    ['ihex', 'hex'],
    ['srec', 'srec'],
    ['binary', 'bin'],
  ] as const)
    shop.run('arm-none-eabi-objcopy', '-O', format, `${name}.elf`, `${name}.${extension}`);
}
