"""A site file edited before a job: changes one by one, taken back, written when asked."""
