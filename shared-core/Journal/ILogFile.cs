namespace Cardassay.Journal;

/// <summary>An open file of an <see cref="ILogDisk"/>. Reads are safe beside one writer.</summary>
public interface ILogFile : IDisposable
{
    /// <summary>Length now, bytes.</summary>
    long Length { get; }

    /// <summary>Reads at an offset. Fills the buffer unless the file ends first; returns the bytes read.</summary>
    int Read(long offset, Span<byte> buffer);

    /// <summary>Writes at an offset, extending the file where needed. After an exception any part may have been written.</summary>
    /// <exception cref="LogDiskFullException">No room.</exception>
    void Write(long offset, ReadOnlySpan<byte> bytes);

    /// <summary>Shortens the file.</summary>
    void Truncate(long length);

    /// <summary>Makes everything written so far durable.</summary>
    /// <exception cref="IOException">It may not be durable, whatever a later call says.</exception>
    void Sync();

    /// <summary>
    /// Asks that the next read comes from the medium and not from the cache, as far as the cache is not newer. After a failed
    /// <see cref="Sync"/> of an earlier process the cache shows data which the medium never got.
    /// </summary>
    void ForgetCache();
}
