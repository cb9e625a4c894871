"""What readings are taken with: register, calibrations, master checks, what they may decide."""
