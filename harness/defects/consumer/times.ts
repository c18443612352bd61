// Defects in where a reading's time is taken from.
import { defect } from '../defect.ts';

export const TIME_DEFECTS = [
  defect(
    'consumer',
    {
      name: 'arrival-time',
      happens: 'The time measured is not read; the row gets the time at which the message came.',
      breaks: ['values.time'],
      cause: 'arrival-time',
    },
    {
      readings: (readings) => {
        const at = new Date().toISOString();
        return readings.map((reading) => ({ ...reading, at }));
      },
    },
  ),
  defect(
    'consumer',
    {
      name: 'senml-base-time-lost',
      happens: 'Of the base times in a SenML pack only the first is read, and all its records get it.',
      breaks: ['values.time'],
      cause: 'base-time-lost',
    },
    {
      readings: (readings, { topic }) => {
        const at = readings[0]?.['at'];
        if (at === undefined || !topic.includes('senml')) return readings;
        return readings.map((reading) => ({ ...reading, at }));
      },
    },
  ),
] as const;
