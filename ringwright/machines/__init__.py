"""What machining needs, what a spindle did, and the plan that a board keeps."""
