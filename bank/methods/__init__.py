"""Written methods: each carries a calculation out digit by digit and returns the trace of it."""
