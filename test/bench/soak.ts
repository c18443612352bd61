// `npm run soak -- [cases] [seed]`: random cases through the sound pipeline, default 2,000. Ends with the counts; exit
// code 1 at the first false alarm, with the seed that shows it again.
import fc from 'fast-check';
import { anySoakCase, soak } from '../support/soak.ts';

const cases = Number(process.argv[2] ?? 2000);
const seed = Number(process.argv[3] ?? 1);
let done = 0;
let rows = 0;
for (const given of fc.sample(anySoakCase, { numRuns: cases, seed })) {
  const outcome = await soak(given);
  if (outcome.broken.length > 0 || outcome.incomplete !== null) {
    console.log(`case ${done} of seed ${seed}: ${JSON.stringify(outcome)}`);
    console.log(JSON.stringify(given));
    process.exit(1);
  }
  done += 1;
  rows += outcome.rows;
  if (done % 100 === 0) console.log(`${done} cases, ${rows} rows, no false alarm`);
}
console.log(`${done} random cases (seed ${seed}), ${rows} rows judged, 0 false alarms`);
