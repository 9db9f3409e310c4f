/* compare_sentence.c - a comparison's sentences, put together piece by piece. */
#include "compare_sentence.h"

#include <math.h>
#include <stdarg.h>

void compare_write_money(const struct comparison *comparison, double money, struct text *text)
{
    long whole = lround(fabs(money));
    text_add(text, "%s%s", money < 0 && whole > 0 ? "-" : "",
             comparison->compare->wish.quote->currency);
    if (whole >= 1000)
        text_add(text, "%ld,%03ld", whole / 1000, whole % 1000);
    else
        text_add(text, "%ld", whole);
}

void sentence_begin(struct sentence *sentence, const struct comparison *comparison,
                    compare_line *line, void *context)
{
    *sentence = (struct sentence){.comparison = comparison, .line = line, .context = context};
    sentence->text = text_in(sentence->buffer, sizeof(sentence->buffer));
}

void say(struct sentence *sentence, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&sentence->text, format, arguments);
    va_end(arguments);
}

void say_money(struct sentence *sentence, double money)
{
    compare_write_money(sentence->comparison, money, &sentence->text);
}

void sentence_end(struct sentence *sentence)
{
    sentence->line(sentence->context, sentence->buffer);
    sentence->text = text_in(sentence->buffer, sizeof(sentence->buffer));
}
