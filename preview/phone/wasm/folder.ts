// Where the core keeps its files: a folder of a few files that were opened before the core began,
// since opening is slow and asynchronous in a browser and SQLite is neither.
//
// A file is there when it has any bytes: browsers cannot delete a file that is open, so removing one
// empties it. Whoever opened a folder is the only one who has it.

export interface StoredFile {
  /// Reads up to `into.length` bytes from place `at`; how many there were.
  read(into: Uint8Array, at: number): number;
  /// Writes all of the bytes or throws; `isFull` tells whether for want of room.
  write(bytes: Uint8Array, at: number): void;
  truncate(size: number): void;
  /// Returns when what was written is on the disk.
  flush(): void;
  size(): number;
  close(): void;
}

export interface Folder {
  /// The file of that name; undefined where the folder has no place for one.
  file(name: string): StoredFile | undefined;
  close(): void;
}

/// The files that SQLite makes of a ledger.
export const ledgerFiles = ["ledger.sqlite3", "ledger.sqlite3-wal", "ledger.sqlite3-journal"];

/// Another tab (or program) has the folder open.
export class FolderTaken extends Error {
  constructor() {
    super("the ledger is open in another tab or window");
    this.name = "FolderTaken";
  }
}

/// There is no room for what was written.
export class NoRoom extends Error {
  constructor() {
    super("there is no room left for the ledger");
    this.name = "NoRoom";
  }
}

export function isFull(failure: unknown): boolean {
  if (failure instanceof NoRoom) return true;
  const { name, code } = (failure ?? {}) as { name?: string; code?: string };
  return name === "QuotaExceededError" || code === "ENOSPC" || code === "EDQUOT";
}

/// The least of what lib.dom's FileSystemSyncAccessHandle has, which TypeScript knows in workers only.
interface SyncHandle {
  read(into: Uint8Array, options: { at: number }): number;
  write(bytes: Uint8Array, options: { at: number }): number;
  truncate(size: number): void;
  getSize(): number;
  flush(): void;
  close(): void;
}

function stored(handle: SyncHandle): StoredFile {
  return {
    read: (into, at) => handle.read(into, { at }),
    write(bytes, at) {
      // A browser that runs out of room in the middle may say so by the number alone.
      if (handle.write(bytes, { at }) < bytes.length) throw new NoRoom();
    },
    truncate: (size) => handle.truncate(size),
    flush: () => handle.flush(),
    size: () => handle.getSize(),
    close: () => handle.close(),
  };
}

/// Opens a folder of the browser's own file system (navigator.storage.getDirectory() and what is
/// under it). Only in a dedicated worker. Throws FolderTaken where another tab has it.
export async function openBrowserFolder(directory: FileSystemDirectoryHandle): Promise<Folder> {
  const files = new Map<string, StoredFile>();
  try {
    for (const name of ledgerFiles) {
      const file = (await directory.getFileHandle(name, { create: true })) as unknown as {
        createSyncAccessHandle(): Promise<SyncHandle>;
      };
      files.set(name, stored(await file.createSyncAccessHandle()));
    }
  } catch (failure) {
    for (const file of files.values()) file.close();
    if ((failure as { name?: string }).name === "NoModificationAllowedError") {
      throw new FolderTaken();
    }
    throw failure;
  }
  return {
    file: (name) => files.get(name),
    close() {
      for (const file of files.values()) file.close();
    },
  };
}
