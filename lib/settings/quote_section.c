/* quote_section.c - the rows say it all; a section that is not there has its defaults. */
#include "quote_section.h"

#include "sections.h"

void quote_read(const struct reader *reader, const struct node *root, struct settings *settings)
{
    const struct target targets[] = {{&quote_rows, &settings->quote}};
    read_section(reader, "quote", node_child(root, "quote"), targets, 1, NULL);
}
