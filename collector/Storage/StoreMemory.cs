namespace Cardassay.Collector.Storage;

/// <summary>Remembers in the data folder where its results were put, so that every later command finds them.</summary>
internal static class StoreMemory
{
    /// <summary>The remembered choice; the file that lies there when nothing was remembered; null in a new folder.</summary>
    /// <exception cref="FormatException">The remembered text was changed by hand and is none.</exception>
    internal static StoreChoice? Read(string storeFolder, string databasePath)
    {
        string path = PathOf(storeFolder);
        if (!File.Exists(path))
        {
            return File.Exists(databasePath) ? StoreChoice.LiteDb : null;
        }

        try
        {
            return StoreChoice.Parse(File.ReadAllText(path).Trim());
        }
        catch (FormatException e)
        {
            throw new FormatException($"The file {path} says nothing usable of where the results are; correct or delete it. {e.Message}", e);
        }
    }

    /// <summary>Remembers a choice that has just been opened.</summary>
    internal static void Write(string storeFolder, StoreChoice choice)
    {
        string path = PathOf(storeFolder);
        string next = path + ".new";
        File.WriteAllText(next, choice.Text + "\n");
        File.Move(next, path, overwrite: true);
    }

    private static string PathOf(string storeFolder) => Path.Combine(storeFolder, "choice");
}
