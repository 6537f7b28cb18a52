/*
 * A program for the Larkfield Tansy, an invented machine with a real processor (STM32F407VG). It does one thing: the
 * panel light blinks BLINKS times, rests, and blinks again. It drives no heater and no motor.
 *
 * MARKER, RELEASE and BLINKS come from the command line; where it starts in the flash comes from the linker.
 */

#define REGISTER(address) (*(volatile unsigned *)(address))
#define RCC_AHB1ENR REGISTER(0x40023830u)
#define GPIOD_MODER REGISTER(0x40020C00u)
#define GPIOD_BSRR REGISTER(0x40020C18u)
#define SCB_VTOR REGISTER(0xE000ED08u)

extern unsigned stack_top, data_start, data_end, data_in_flash, bss_start, bss_end;
extern const void *const vectors[];

/* By this text the build is told from its siblings when the name of the file is gone. */
__attribute__((used)) const char marker[] = MARKER;
__attribute__((used)) const char release[] = "LK_BOARD:tansy LK_RELEASE:" RELEASE;

static volatile unsigned blinked = 0;
static volatile unsigned pause_length = 400000;

static void pause(unsigned count) {
  while (count--)
    for (volatile unsigned left = pause_length; left > 0; left--) {
    }
}

void fault(void) {
  for (;;) {
  }
}

void reset(void) {
  const unsigned *from = &data_in_flash;
  for (unsigned *to = &data_start; to < &data_end;) *to++ = *from++;
  for (unsigned *to = &bss_start; to < &bss_end;) *to++ = 0;
  SCB_VTOR = (unsigned)vectors;
  RCC_AHB1ENR |= 1u << 3;
  GPIOD_MODER = (GPIOD_MODER & ~(3u << 24)) | 1u << 24;
  for (;;) {
    for (unsigned i = 0; i < BLINKS; i++) {
      GPIOD_BSRR = 1u << 12;
      pause(1);
      GPIOD_BSRR = 1u << 28;
      pause(1);
      blinked++;
    }
    pause(4);
  }
}

/* 16 vectors of the core and 82 of the devices. */
__attribute__((section(".vectors"), used)) const void *const vectors[98] = {
  &stack_top, reset, fault, fault, fault, fault, fault, 0, 0, 0, 0, fault, fault, 0, fault, fault,
  [16 ... 97] = fault,
};
