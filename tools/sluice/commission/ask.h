/* ask.h - speaking with whoever stands at the switchboard, on a screen of 40 columns or more. */
#ifndef SLUICE_TOOLS_ASK_H
#define SLUICE_TOOLS_ASK_H

#include <stddef.h>

#include "sluice/page/page.h"

struct asking {
    bool nobody; /* nothing is asked */
    bool colour;
};

enum answer { ANSWER_YES, ANSWER_NO, ANSWER_UNKNOWN, ANSWER_QUIT /* or the end of input */ };

void ask_tell(const struct asking *asking, int indent, enum page_colour colour, const char *text);

/* `usual` is what an empty line means. Only where somebody is there. */
enum answer ask_yes(const struct asking *asking, enum answer usual, const char *question);

/* A line of words; may stay empty. False: the end of input. */
bool ask_line(const struct asking *asking, const char *question, char *line, size_t size);

#endif
