"""What is remembered for one user of this computer: people, instruments, recent jobs."""
