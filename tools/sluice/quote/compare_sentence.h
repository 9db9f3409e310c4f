/* compare_sentence.h - a comparison's sentences, put together piece by piece. */
#ifndef SLUICE_TOOLS_COMPARE_SENTENCE_H
#define SLUICE_TOOLS_COMPARE_SENTENCE_H

#include "compare.h"

enum { SENTENCE_MAX = 600 };

struct sentence {
    struct text text;
    const struct comparison *comparison;
    compare_line *line;
    void *context;
    char buffer[SENTENCE_MAX];
};

void sentence_begin(struct sentence *sentence, const struct comparison *comparison,
                    compare_line *line, void *context);
void say(struct sentence *sentence, const char *format, ...) __attribute__((format(printf, 2, 3)));
void say_money(struct sentence *sentence, double money);

/* Gives the line what was said; the next sentence may follow. */
void sentence_end(struct sentence *sentence);

#endif
