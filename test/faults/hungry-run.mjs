/** Submits one batch to a worker that runs out of memory, twice as a run does, and prints how that is told. Argument: worker file. */
import { createExecutor } from '../../dist/src/run/pool.js';

const executor = createExecutor(1, { workerFile: new URL(process.argv[2], import.meta.url) });
for (let attempt = 0; attempt < 2; attempt++) {
  await executor.submit({ batch: 0 }).then(
    () => console.log('done'),
    (error) => console.log(error.message),
  );
}
await executor.close();
console.log('closed');
