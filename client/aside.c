#include "aside.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static enum cot_err failed(struct cot_cli *cli, const char *path, int why)
{
    (void)cot_fail(&cli->fault, COT_IO, "%.200s cannot be written: %s", path, strerror(why));
    return cot_hint(&cli->fault, "nothing was written; name another file, or make room");
}

enum cot_err cot_write_aside(struct cot_cli *cli, const char *path, const void *bytes, size_t len)
{
    size_t room = strlen(path) + 32;
    char *aside = malloc(room);
    if (!aside) return cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    snprintf(aside, room, "%s.part%ld", path, (long)getpid());
    FILE *f = fopen(aside, "wbx");
    int why = f ? 0 : errno;
    if (f && fwrite(bytes, 1, len, f) != len) why = errno;
    if (f && why == 0 && (fflush(f) != 0 || fsync(fileno(f)) != 0)) why = errno;
    if (f && fclose(f) != 0 && why == 0) why = errno;
    if (why == 0 && rename(aside, path) != 0) why = errno;
    if (why != 0 && f) unlink(aside);
    free(aside);
    return why == 0 ? COT_OK : failed(cli, path, why);
}
