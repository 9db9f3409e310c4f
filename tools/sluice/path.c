/* path.c - names of files and folders. */
#include "path.h"

#include <string.h>

#include "core/text.h"

bool path_folder(const char *path, char *folder, size_t size)
{
    struct text text = text_in(folder, size);
    const char *slash = strrchr(path, '/');
    if (!slash)
        text_add(&text, ".");
    else if (slash == path)
        text_add(&text, "/");
    else
        text_add(&text, "%.*s", (int)(slash - path), path);
    return !text.full;
}
