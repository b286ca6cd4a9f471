namespace Cardassay.Collector.Notices;

/// <summary>Small files of the collector's own that are there whole or not at all, also after a power cut.</summary>
internal static class KeptFile
{
    /// <summary>Writes a file in the place of the one before.</summary>
    /// <exception cref="IOException">The disk refuses; the one before stays.</exception>
    internal static void Write(string path, ReadOnlySpan<byte> content)
    {
        string fresh = path + ".new";
        using (FileStream file = File.Create(fresh))
        {
            file.Write(content);
            file.Flush(flushToDisk: true);
        }

        File.Move(fresh, path, overwrite: true);
    }
}
