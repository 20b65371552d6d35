"""From the inbox into the database: files taken in once each, spellings normalised, work spread over processes."""
