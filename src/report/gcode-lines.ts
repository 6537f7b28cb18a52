import type { ConfirmationReport } from './confirmation.js';

/** The lines to enter, by themselves, as a file that a terminal can send; null when there are none. */
export function gcodeLines({ lines, stepsLines }: ConfirmationReport): string | null {
  const parts = [
    ...(lines.length === 0 ? [] : ['; Settings as they were recorded before the flash', ...lines]),
    ...(stepsLines.length === 0 ? [] : ['; Steps calculated from a measured move', ...stepsLines]),
  ];
  return parts.length === 0 ? null : `${parts.join('\n')}\n`;
}
