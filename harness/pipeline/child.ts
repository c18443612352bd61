// The reference pipeline as a process of its own; host.ts starts it.
import { BadInput, NotCompleted } from '../../sim/index.ts';
import { startFrom } from './here.ts';
import type { Answer, Asked, Request } from './messages.ts';
import type { ReferencePipeline } from './reference.ts';

let pipeline: ReferencePipeline | undefined;

async function answer(request: Request): Promise<unknown> {
  if (request.kind === 'start') {
    pipeline = await startFrom(request.options);
    return undefined;
  }
  if (pipeline === undefined) throw new NotCompleted('the pipeline was not started');
  switch (request.kind) {
    case 'counts':
      return await pipeline.counts();
    case 'flush':
      return await pipeline.flush();
    case 'crash':
      return await pipeline.crash();
    case 'resume':
      return await pipeline.resume();
    case 'export':
      return await pipeline.exportCsv(request.query);
    case 'exportRejects':
      return await pipeline.exportRejects(request.file);
    case 'close':
      return await pipeline.close();
  }
}

process.on('message', ({ call, request }: Asked) => {
  void answer(request)
    .then(
      (value): Answer => ({ call, ok: true, value }),
      (error: unknown): Answer => ({
        call,
        ok: false,
        error: error instanceof BadInput ? 'BadInput' : 'NotCompleted',
        message: error instanceof Error ? error.message : String(error),
      }),
    )
    .then((reply) => {
      process.send?.(reply, () => {
        if (request.kind === 'close') process.disconnect();
      });
    });
});

// Without the harness there is nobody to answer to; what isn't committed comes again from the broker.
process.on('disconnect', () => process.exit(0));
