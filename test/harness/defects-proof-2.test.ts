import { proveShard } from './defects-shard.ts';

proveShard(1);
