"""Find the fault: what is wrong, how sure that is, and which test to make next."""
