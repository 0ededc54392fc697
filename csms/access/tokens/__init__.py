"""Tokens: what identifies who charges (OCPP IdToken), each owned by one member."""
