/** A worker thread that ends before it can take a batch. */
process.exit(4);
