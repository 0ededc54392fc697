"""Rights: which member or group, or everyone, may charge where."""
