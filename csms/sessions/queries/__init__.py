"""What is asked of sessions: lists, who charged lately, and steps that fitted nowhere."""
