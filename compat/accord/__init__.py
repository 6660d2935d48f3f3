"""The accord: values and answers that two sides settle and sign as one plan."""
