"""The numbers of the flow: output, pace, yields, times, work in progress."""
