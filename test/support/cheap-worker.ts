/** Worker threads for tests without a kernel. */
export { cheapTask as trace } from './cheap-kernel.js';
