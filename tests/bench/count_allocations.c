/* count_allocations.c - preloaded into sluiced: counts the allocations that its own
 * code asks for, by where the call comes from, and writes the count to the file
 * named by ALLOCATIONS_FILE at exit. What libraries allocate among themselves is
 * theirs. */
#include <dlfcn.h>
#include <link.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

static atomic_long counted;
static uintptr_t text_begin, text_end;

/* The first object is the program itself. */
static int find_program(struct dl_phdr_info *info, size_t size, void *context)
{
    (void)size, (void)context;
    for (int k = 0; k < info->dlpi_phnum; k++)
        if (info->dlpi_phdr[k].p_type == PT_LOAD && (info->dlpi_phdr[k].p_flags & PF_X)) {
            text_begin = info->dlpi_addr + info->dlpi_phdr[k].p_vaddr;
            text_end = text_begin + info->dlpi_phdr[k].p_memsz;
        }
    return 1;
}

__attribute__((constructor)) static void begin(void)
{
    dl_iterate_phdr(find_program, NULL);
}

__attribute__((destructor)) static void end(void)
{
    const char *path = getenv("ALLOCATIONS_FILE");
    FILE *file = path ? fopen(path, "we") : NULL;
    if (file) {
        fprintf(file, "%ld\n", atomic_load(&counted));
        fclose(file);
    }
}

static void count(const void *from)
{
    uintptr_t at = (uintptr_t)from;
    if (at >= text_begin && at < text_end)
        atomic_fetch_add(&counted, 1);
}

extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);

void *malloc(size_t size)
{
    count(__builtin_return_address(0));
    return __libc_malloc(size);
}

void *calloc(size_t number, size_t size)
{
    count(__builtin_return_address(0));
    return __libc_calloc(number, size);
}

void *realloc(void *old, size_t size)
{
    count(__builtin_return_address(0));
    return __libc_realloc(old, size);
}
