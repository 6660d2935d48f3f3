"""From a case file to arrays, and from arrays to an answer: pure, without Django."""
