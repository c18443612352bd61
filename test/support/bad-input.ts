import { BadInput } from '../../sim/errors.ts';

/** Every line of the BadInput that `act` throws, or none where it throws nothing. */
export function linesOrNone(act: () => unknown): readonly string[] {
  try {
    act();
  } catch (error) {
    if (error instanceof BadInput) return [error.message, ...error.also];
    throw error;
  }
  return [];
}

/** The same, where nothing thrown is a failure of the test. */
export function linesOf(act: () => unknown): readonly string[] {
  const lines = linesOrNone(act);
  if (lines.length === 0) throw new Error('nothing was refused');
  return lines;
}
