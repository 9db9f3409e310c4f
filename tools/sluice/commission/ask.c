/* ask.c - questions of one letter, with what Enter means in capitals. */
#include "ask.h"

#include <stdio.h>
#include <string.h>

enum { INDENT = 2, LINE_MAX_SIZE = 256 };

void ask_tell(const struct asking *asking, int indent, enum page_colour colour, const char *text)
{
    struct page page = {.colour = asking->colour, .width = page_terminal_width()};
    page_to(&page, indent);
    page_colour(&page, colour);
    page_wrap(&page, indent, text);
    page_colour(&page, PAGE_PLAIN);
    fflush(stdout);
}

/* False: the end of input. What does not fit in `line` is dropped. */
static bool read_line(char *line, size_t size)
{
    if (!fgets(line, (int)size, stdin))
        return false;
    size_t length = strcspn(line, "\n");
    if (line[length] == '\0')
        for (int c = getchar(); c != '\n' && c != EOF;)
            c = getchar();
    line[length] = '\0';
    return true;
}

bool ask_line(const struct asking *asking, const char *question, char *line, size_t size)
{
    ask_tell(asking, INDENT, PAGE_BOLD, question);
    fputs("  > ", stdout);
    fflush(stdout);
    return read_line(line, size);
}

static bool meant(const char *line, enum answer usual, enum answer *answer)
{
    static const struct {
        const char *word;
        enum answer answer;
    } words[] = {{"y", ANSWER_YES}, {"yes", ANSWER_YES},   {"n", ANSWER_NO},
                 {"no", ANSWER_NO}, {"?", ANSWER_UNKNOWN}, {"q", ANSWER_QUIT}};
    *answer = usual;
    if (!*line)
        return true;
    for (size_t k = 0; k < sizeof(words) / sizeof(words[0]); k++)
        if (strcasecmp(line, words[k].word) == 0) {
            *answer = words[k].answer;
            return true;
        }
    return false;
}

enum answer ask_yes(const struct asking *asking, enum answer usual, const char *question)
{
    static const char *const keys[] = {
        [ANSWER_YES] = "[Y/n/?/q]", [ANSWER_NO] = "[y/N/?/q]", [ANSWER_UNKNOWN] = "[y/n/?/q]"};
    char line[LINE_MAX_SIZE], whole[512];
    enum answer answer;
    snprintf(whole, sizeof(whole), "%s %s", question, keys[usual]);
    do {
        if (!ask_line(asking, whole, line, sizeof(line)))
            return ANSWER_QUIT;
        if (meant(line, usual, &answer))
            return answer;
        ask_tell(asking, INDENT, PAGE_PLAIN,
                 "y is yes, n is no, ? is not known, q ends here and keeps what was done.");
    } while (true);
}
