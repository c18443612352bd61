// The front door of diagnosis: exports only.
export { ABSENT_HYPOTHESES } from './absent.ts';
export { CausedCollector } from './caused-collector.ts';
export { causeOfFlaw } from './csv-form.ts';
export { FORM_HYPOTHESES } from './form.ts';
export { causeOfHeader } from './header.ts';
export { diagnose, type Hypothesis } from './hypothesis.ts';
export type { CellInstance, ReadingInstance, RowInstance, WindowInstance } from './instances.ts';
export { INVENTED_HYPOTHESES } from './invented.ts';
export { MISSING_HYPOTHESES } from './missing.ts';
export { NUMBER_HYPOTHESES } from './numbers.ts';
export { ORDER_HYPOTHESES, STABLE_HYPOTHESES } from './order.ts';
export { REPEAT_HYPOTHESES } from './repeats.ts';
export { Sample } from './sample.ts';
export { TEXT_HYPOTHESES } from './text.ts';
export { TIME_HYPOTHESES } from './time.ts';
export { WINDOW_HYPOTHESES } from './window.ts';
