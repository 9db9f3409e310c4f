/* other_words.h - the words that people bring along from elsewhere. */
#ifndef SLUICE_SETTINGS_OTHER_WORDS_H
#define SLUICE_SETTINGS_OTHER_WORDS_H

#include <stddef.h>

/* What `word` is called here: one of `keys`; NULL: no such word is known. */
const char *other_word(const char *word, const char *const keys[], size_t count);

#endif
