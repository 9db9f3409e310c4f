/* reload.c - the daemon reads its settings file again. */
#include "control.h"
#include "sluice/options.h"

enum status reload_main(struct invocation *at, int argc, char *argv[])
{
    bool yes = false;
    const struct option_row rows[] = {{.name = "--yes", .flag = &yes}, {0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage(at, "reload");
    return control_order(at, yes ? "reload even-if-cut" : "reload");
}
