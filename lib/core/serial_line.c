/* serial_line.c - the words for parities. */
#include "core/serial_line.h"

#include <string.h>

const struct setting_choice parity_choices[] = {
    {"none", PARITY_NONE, "no parity"},
    {"even", PARITY_EVEN, "even parity, the standard's default"},
    {"odd", PARITY_ODD, "odd parity"},
    {NULL, 0, NULL},
};

const char *parity_word(uint8_t parity)
{
    return parity_choices[parity].word;
}

char parity_letter(uint8_t parity)
{
    return "NEO"[parity];
}

bool parity_read(const char *word, uint8_t *parity)
{
    for (const struct setting_choice *choice = parity_choices; choice->word; choice++)
        if (strcmp(choice->word, word) == 0) {
            *parity = (uint8_t)choice->value;
            return true;
        }
    return false;
}

void serial_line_write(int32_t baud, uint8_t parity, uint8_t stop_bits, struct text *text)
{
    text_add(text, "%d baud, %s parity%s", (int)baud,
             parity == PARITY_NONE ? "no" : parity_word(parity),
             stop_bits == 2 ? ", 2 stop bits" : "");
}
