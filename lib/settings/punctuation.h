/* punctuation.h - a colon, comma, quote or bracket that is missing, or one too many. */
#ifndef SLUICE_SETTINGS_PUNCTUATION_H
#define SLUICE_SETTINGS_PUNCTUATION_H

#include "indent.h"

/* A text that is no YAML, up to the line (from 0) where the parser gave up: the likely cause,
 * where it is one of these. `wants_colon`: the parser missed a key's colon. */
bool punctuation_find(const char *bytes, size_t size, size_t given_up, bool wants_colon,
                      struct indent_finding *finding);

#endif
