/* trouble_list.h - collecting what is wrong with a file, each with its place. */
#ifndef SLUICE_SETTINGS_TROUBLE_LIST_H
#define SLUICE_SETTINGS_TROUBLE_LIST_H

#include "settings.h"

enum { TROUBLES_MAX = 100 };

/* Line and column count from 1; line 0 stands for the file as a whole. */
struct place {
    const char *file;
    int line, column;
};

void trouble_add(struct settings_troubles *troubles, struct place place, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void trouble_add_list(struct settings_troubles *troubles, struct place place, const char *format,
                      va_list arguments) __attribute__((format(printf, 3, 0)));

/* Nothing more is taken: whoever reads on would work in vain. */
bool troubles_full(const struct settings_troubles *troubles);

/* In the order of `file`; those of other files (meter maps) follow as they came. */
void troubles_sort(struct settings_troubles *troubles, const char *file);

/* Something from the file, fit to stand in a message; lives as long as the block. */
#define QUOTED(word) text_shorten((char[TEXT_SHORT_SIZE]){0}, (word))

/* `; do you mean "WORD"?`, or nothing where no candidate is near. */
const char *troubles_hint(char buffer[static TEXT_SHORT_SIZE], const char *word,
                          const char *const candidates[], size_t count);
#define HINT(word, candidates, count)                                                              \
    troubles_hint((char[TEXT_SHORT_SIZE]){0}, (word), (candidates), (count))

#endif
